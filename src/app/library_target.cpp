#include "app/library_target.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <tuple>

#include "app/library_folder.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

auto sensor_of(const store::LibraryFrame& f) {
  return std::tuple(f.camera, f.width, f.height, f.binning_x, f.binning_y);
}

std::string names_of(const std::vector<store::TargetHours>& hours) {
  std::set<std::string> names;
  for (const store::TargetHours& h : hours) names.insert(h.target.empty() ? "(no name)" : h.target);
  std::string text;
  for (const std::string& name : names) text += (text.empty() ? "" : ", ") + name;
  return text.empty() ? "none" : text;
}

}  // namespace

Result<std::vector<fs::path>> target_files(const std::optional<fs::path>& workspace, const std::string& target) {
  NG_TRY(const LibraryFolder library, find_library(workspace));
  NG_TRY(const store::LibraryIndex index, store::LibraryIndex::open(library.index));
  NG_TRY(const auto lights, index.search({.target = target}));
  if (lights.empty()) {
    NG_TRY(const auto hours, index.hours());
    return Error(Code::kNotFound,
                 fmt::format("the library has no light of '{}'; its targets: {}", target, names_of(hours)));
  }
  std::set<decltype(sensor_of(lights.front()))> sensors;
  std::vector<fs::path> files;
  for (const store::LibraryFrame& f : lights) {
    sensors.insert(sensor_of(f));
    files.push_back(library.frames / f.path);
  }
  for (const char* kind : {"dark", "flat", "bias", "dark-flat"}) {
    NG_TRY(const auto frames, index.search({.kind = kind}));
    for (const store::LibraryFrame& f : frames)
      if (sensors.contains(sensor_of(f))) files.push_back(library.frames / f.path);
  }
  std::sort(files.begin(), files.end());
  return files;
}

}  // namespace ng::app
