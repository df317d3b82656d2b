#include "app/night_frames.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "app/library_folder.h"
#include "app/local_time.h"
#include "app/recorded_path.h"
#include "app/text_file.h"
#include "app/workspace.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr double kHalfDay_s = 43200;

template <typename T>
std::optional<T> number(const Json& frame, const char* key) {
  const auto found = frame.find(key);
  if (found == frame.end() || !found->is_number()) return std::nullopt;
  return found->get<T>();
}
std::string text(const Json& frame, const char* key) {
  const auto found = frame.find(key);
  return found != frame.end() && found->is_string() ? found->get<std::string>() : "";
}

NightFrame frame_of(const Json& json, const fs::path& workspace, const std::string& masters, const LocalZone& zone) {
  NightFrame f;
  const std::string recorded = text(json, "path");
  f.name = fs::path(recorded).filename().string();
  if (const auto path = recorded_path(workspace, recorded)) f.path = path->generic_string();
  f.masters = masters;
  f.filter = text(json, "filter");
  f.start = text(json, "start");
  if (const auto start = Instant::parse(f.start)) {
    f.local_start = zone.clock(*start);
    f.night = zone.date(start->plus_seconds(-kHalfDay_s));
  }
  f.accepted = json.value("accepted", false);
  f.reason = text(json, "reason");
  f.exposure_s = number<double>(json, "exposure_s");
  f.fwhm_px = number<double>(json, "fwhm_px");
  f.eccentricity = number<double>(json, "eccentricity");
  f.background_e = number<double>(json, "background_e");
  f.transmission = number<double>(json, "transmission");
  f.weight = number<double>(json, "weight");
  f.equivalent_min = number<double>(json, "equivalent_min");
  f.stars = number<int>(json, "stars");
  f.trails = number<int>(json, "trails");
  const auto t = json.find("transform");
  if (t != json.end() && t->is_array() && t->size() == 6 &&
      std::all_of(t->begin(), t->end(), [](const Json& v) { return v.is_number(); }))
    f.transform = t->get<std::array<double, 6>>();
  return f;
}

void add_frames(const fs::path& recipe, const Workspace& w, const LocalZone& zone, NightFramesReply& reply) {
  const auto tell = [&](const char* what) {
    reply.notes.push_back(fmt::format("{}: {}", recipe.filename().string(), what));
  };
  const auto read = read_text(recipe);
  const Json json = read.ok() ? Json::parse(*read, nullptr, false) : Json();
  if (!json.is_object()) return tell("is no recipe of a master");
  if (!json.contains("frames") || !json["frames"].is_array())
    return tell("was written before frames were kept: reduce again to see them");
  const std::string masters = recipe.parent_path().lexically_relative(w.folder).generic_string();
  for (const Json& frame : json["frames"])
    if (frame.is_object()) reply.frames.push_back(frame_of(frame, w.folder, masters, zone));
}

bool is_date(const std::string& date) {
  return date.size() == 10 && Instant::parse(date).has_value();
}

}  // namespace

Result<NightFramesReply> night_frames(const NightFramesRequest& request, const Context&) {
  if (!request.date.empty() && !is_date(request.date))
    return Error(Code::kInvalidInput,
                 fmt::format("date is '{}': give a local evening date like 2026-09-12", request.date));
  NG_TRY(const Workspace w, open_workspace(request.workspace));
  NG_TRY(const LocalZone zone, LocalZone::find(w.site.time_zone));
  const fs::path folder = request.masters.value_or(w.folder / "masters");
  std::error_code error;
  if (request.masters && !fs::is_directory(folder, error))
    return Error(Code::kNotFound, fmt::format("there is no folder {}", folder.filename().string()));
  NightFramesReply reply;
  for (const fs::path& path : files_below(folder))
    if (path.string().ends_with(".recipe.json")) add_frames(path, w, zone, reply);
  std::stable_sort(reply.frames.begin(), reply.frames.end(), [](const NightFrame& a, const NightFrame& b) {
    return std::tie(a.start, a.filter, a.name, b.masters) < std::tie(b.start, b.filter, b.name, a.masters);
  });
  std::set<std::string> seen;
  std::erase_if(reply.frames, [&](const NightFrame& f) { return !f.path.empty() && !seen.insert(f.path).second; });
  std::map<std::string, int> nights;
  for (const NightFrame& f : reply.frames)
    if (!f.night.empty()) ++nights[f.night];
  for (const auto& [night, frames] : nights) reply.nights.push_back({night, frames});
  if (!request.date.empty()) std::erase_if(reply.frames, [&](const NightFrame& f) { return f.night != request.date; });
  return reply;
}

}  // namespace ng::app
