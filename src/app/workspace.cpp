#include "app/workspace.h"

#include <fmt/format.h>

#include "app/text_file.h"
#include "base/near_word.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr const char* kSite = "site.toml";
constexpr const char* kRig = "rig.toml";
constexpr double kWideGapDeg = 60;

bool holds(const fs::path& folder, const char* name) {
  std::error_code failure;
  return fs::is_regular_file(folder / name, failure);
}

Result<bool> is_workspace(const fs::path& folder) {
  const bool site = holds(folder, kSite), rig = holds(folder, kRig);
  if (site != rig)
    return Error(Code::kNotFound,
                 fmt::format("{} has {} but no {}: `nightglass init {}` writes what is missing", folder.string(),
                             site ? kSite : kRig, site ? kRig : kSite, folder.string()));
  return site;
}

}  // namespace

Result<fs::path> find_workspace(const std::optional<fs::path>& named, const fs::path& start) {
  if (named) {
    NG_TRY(const bool found, is_workspace(*named));
    if (found) return *named;
    return Error(Code::kNotFound, fmt::format("{0} is no workspace: it has no site.toml and no rig.toml; "
                                              "`nightglass init {0}` makes one",
                                              named->string()));
  }
  for (fs::path folder = start;; folder = folder.parent_path()) {
    NG_TRY(const bool found, is_workspace(folder));
    if (found) return folder;
    if (folder == folder.parent_path()) break;
  }
  return Error(
      Code::kNotFound,
      fmt::format("no workspace in {} nor in any folder above: make one with `nightglass init FOLDER`, or name "
                  "yours with --workspace FOLDER",
                  start.string()));
}

Result<Workspace> open_workspace(const std::optional<fs::path>& named) {
  std::error_code failure;
  const fs::path start = fs::current_path(failure);
  NG_TRY(const fs::path folder, find_workspace(named, start));
  return read_workspace(folder);
}

Result<Workspace> read_workspace(const fs::path& folder) {
  Workspace w;
  w.folder = folder;
  NG_TRY(const std::string site, read_text(folder / kSite));
  NG_TRY(w.site, parse_site(site, (folder / kSite).string(), folder));
  NG_TRY(const std::string rig, read_text(folder / kRig));
  NG_TRY(w.rig, parse_rig(rig, (folder / kRig).string()));
  w.notes = w.site.horizon.gaps(kWideGapDeg);
  if (w.rig.gains.rows.size() == 1)
    w.notes.emplace_back("the rig has one gain setting only: no gain curve, and no better setting can be advised");
  return w;
}

}  // namespace ng::app
