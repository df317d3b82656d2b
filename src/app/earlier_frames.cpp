#include "app/earlier_frames.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>

#include "app/recorded_path.h"
#include "app/workspace.h"
#include "store/library_index.h"

namespace ng::app {
namespace fs = std::filesystem;

namespace {

// Where frames that a recipe names lie now: masters may have come from another workspace, or with their own one.
class FramesHere {
 public:
  explicit FramesHere(const fs::path& masters) {
    std::error_code ignored;
    const auto workspace = find_workspace(std::nullopt, fs::weakly_canonical(masters, ignored));
    if (!workspace.ok()) return;
    workspace_ = *workspace;
    if (!fs::exists(workspace_ / "library.db", ignored)) return;
    auto index = store::LibraryIndex::open(workspace_ / "library.db");
    if (index.ok()) index_.emplace(std::move(index).value());
  }

  // The library's frame of that content; else what lies where the recipe says, there or below this workspace.
  [[nodiscard]] fs::path find(const EarlierFrame& frame) const {
    std::error_code ignored;
    if (index_) {
      const auto known = index_->by_hash(frame.hash);
      if (known.ok() && *known && fs::exists(workspace_ / "frames" / (*known)->path, ignored))
        return workspace_ / "frames" / (*known)->path;
    }
    if (fs::exists(frame.path, ignored) || workspace_.empty()) return frame.path;
    const auto below = recorded_path(workspace_, frame.path.string());
    return below ? workspace_ / *below : frame.path;
  }

 private:
  fs::path workspace_;  // empty: none
  std::optional<store::LibraryIndex> index_;
};

}  // namespace

Result<std::vector<EarlierFrame>> earlier_frames(const fs::path& masters) {
  std::vector<fs::path> recipes;
  std::error_code error;
  for (fs::directory_iterator it(masters, error), end; !error && it != end; it.increment(error))
    if (it->path().string().ends_with(".recipe.json")) recipes.push_back(it->path());
  if (recipes.empty())
    return Error(
        Code::kNotFound,
        fmt::format("{}: holds no master with its recipe to add to; reduce without --add first", masters.string()));
  std::sort(recipes.begin(), recipes.end());

  const FramesHere here(masters);
  std::vector<EarlierFrame> frames;
  std::set<std::string> seen;
  for (const fs::path& path : recipes) {
    std::ifstream in(path);
    const auto recipe = nlohmann::json::parse(in, nullptr, false);
    for (const char* part : {"lights", "calibration"}) {
      if (!recipe.is_object() || !recipe.contains(part) || !recipe[part].is_array())
        return Error(Code::kCorrupt, fmt::format("{}: is no recipe of a master", path.string()));
      for (const auto& entry : recipe[part]) {
        if (!entry.is_object() || !entry.contains("path") || !entry.contains("xxh3_128"))
          return Error(Code::kCorrupt, fmt::format("{}: an entry of its {} is incomplete", path.string(), part));
        EarlierFrame frame{entry["path"].get<std::string>(), entry["xxh3_128"].get<std::string>(),
                           path.filename().string()};
        if (!seen.insert(frame.hash).second) continue;
        frame.path = here.find(frame);
        if (!fs::exists(frame.path, error))
          return Error(Code::kNotFound,
                       fmt::format("{}: is gone, but {} was made of it; put it back, or reduce all frames anew",
                                   frame.path.string(), frame.master));
        frames.push_back(std::move(frame));
      }
    }
  }
  return frames;
}

}  // namespace ng::app
