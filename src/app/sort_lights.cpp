#include "app/sort_lights.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <tuple>

namespace ng::app {
namespace {

// Files that do not say what they are: where no other says so, they are the lights.
void settle_unknown_kinds(std::vector<InputFrame>& frames, std::vector<std::string>& notes) {
  const bool lights_known = std::any_of(frames.begin(), frames.end(),
                                        [](const InputFrame& f) { return f.usable() && f.kind == FrameKind::kLight; });
  std::string first;
  int taken = 0;
  for (InputFrame& f : frames) {
    if (!f.usable() || f.kind != FrameKind::kUnknown) continue;
    if (lights_known) {
      f.reason = "does not say what it is, in header or name, while other files say that they are lights";
      continue;
    }
    f.kind = FrameKind::kLight;
    if (taken++ == 0) first = f.path.filename().string();
  }
  if (taken > 0)
    notes.push_back(
        fmt::format("{} of {} files, {} the first, do not say what they are, in header or name: taken as lights", taken,
                    frames.size(), first));
}

std::string no_lights_sentence(const std::vector<InputFrame>& frames, const std::filesystem::path& folder) {
  std::map<std::string, int> counts;
  for (const InputFrame& f : frames) ++counts[f.usable() ? std::string(to_string(f.kind)) : "unreadable or double"];
  std::string text;
  for (const auto& [kind, n] : counts) text += fmt::format("{}{} {}", text.empty() ? "" : ", ", n, kind);
  std::string first;
  for (const InputFrame& f : frames)
    if (!f.reason.empty() && first.empty()) first = fmt::format("; {}: {}", f.path.filename().string(), f.reason);
  return fmt::format("{}: no lights among its {} files ({}){}", folder.string(), frames.size(), text, first);
}

}  // namespace

Result<std::vector<Light>> sort_lights(std::vector<InputFrame>& frames, const ReduceRequest& request,
                                       std::vector<std::string>& notes) {
  settle_unknown_kinds(frames, notes);
  std::vector<Light> lights;
  for (InputFrame& f : frames) {
    if (!f.usable() || f.kind != FrameKind::kLight) continue;
    Light light;
    light.input = &f;
    light.bayer = f.facts().mosaic(request.bayer);
    light.planes = light.bayer || f.facts().planes == 3 ? 3 : 1;
    light.filter = f.facts().filter;
    lights.push_back(std::move(light));
  }
  if (lights.empty()) return Error(Code::kNotFound, no_lights_sentence(frames, request.folder));
  // Wherever their files lie: sums then come out the same.
  std::stable_sort(lights.begin(), lights.end(), [](const Light& a, const Light& b) {
    const auto key = [](const Light& l) {
      return std::tuple(l.input->facts().start.has_value() ? l.input->facts().start->iso() : std::string(),
                        l.input->path.filename().string(), l.input->hash);
    };
    return key(a) < key(b);
  });
  return lights;
}

}  // namespace ng::app
