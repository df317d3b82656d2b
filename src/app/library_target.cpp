#include "app/library_target.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <tuple>

#include "app/library_folder.h"
#include "app/workspace.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

auto sensor_of(const store::LibraryFrame& f) {
  return std::tuple(f.camera, f.width, f.height, f.binning_x, f.binning_y);
}

std::string names_of(const std::vector<store::TargetHours>& hours) {
  std::set<std::string> names;
  for (const store::TargetHours& h : hours) names.insert(h.target.empty() ? store::kNoTarget : h.target);
  std::string text;
  for (const std::string& name : names) text += (text.empty() ? "" : ", ") + name;
  return text.empty() ? "none" : text;
}

}  // namespace

Result<std::vector<store::LibraryFrame>> target_frames(const store::LibraryIndex& index, const std::string& target) {
  NG_TRY(std::vector<store::LibraryFrame> frames, index.search({.target = target}));
  if (frames.empty()) {
    NG_TRY(const auto hours, index.hours());
    return Error(Code::kNotFound,
                 fmt::format("the library has no light of '{}'; its targets: {}", target, names_of(hours)));
  }
  std::set<decltype(sensor_of(frames.front()))> sensors;
  for (const store::LibraryFrame& f : frames) sensors.insert(sensor_of(f));
  for (const char* kind : {"dark", "flat", "bias", "dark-flat"}) {
    NG_TRY(auto others, index.search({.kind = kind}));
    for (store::LibraryFrame& f : others)
      if (sensors.contains(sensor_of(f))) frames.push_back(std::move(f));
  }
  std::sort(frames.begin(), frames.end(), [](const auto& a, const auto& b) { return a.path < b.path; });
  return frames;
}

Result<TargetFiles> target_files(const std::optional<fs::path>& workspace, const std::string& target) {
  NG_TRY(const LibraryFolder library, find_library(workspace));
  NG_TRY(const store::LibraryIndex index, store::LibraryIndex::open(library.index));
  NG_TRY(const auto frames, target_frames(index, target));
  NG_TRY(const auto measures, index.measure_files({.target = target}));
  TargetFiles files;
  for (const store::LibraryFrame& f : frames) files.frames.push_back(library.frames / f.path);
  for (const std::string& m : measures) files.measures.push_back(library.workspace / m);
  return files;
}

std::vector<std::string> outside_note(const ReduceRequest& request) {
  std::error_code ignored;
  const auto workspace = find_workspace(request.workspace, fs::current_path(ignored));
  if (!workspace.ok()) return {};
  const fs::path masters = fs::weakly_canonical(*workspace / "masters", ignored);
  const fs::path within = fs::weakly_canonical(request.out, ignored).lexically_relative(masters);
  if (!within.empty() && *within.begin() != "..") return {};
  return {fmt::format(
      "the library does not list these masters and an export leaves them out, because they are not below {}: "
      "move the folder there and run `nightglass library rebuild`",
      masters.string())};
}

}  // namespace ng::app
