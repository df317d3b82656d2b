#include "app/sensor_frames.h"

#include <algorithm>
#include <cmath>

namespace ng::app {
namespace {

constexpr double kSameExposure = 1e-3;  // share
constexpr double kSettingStep = 1e-3;

bool same(const std::optional<double>& a, const std::optional<double>& b) {
  return a.has_value() == b.has_value() && (!a || std::fabs(*a - *b) < kSettingStep);
}

bool same_setting(const FrameFacts& a, const FrameFacts& b) {
  return a.camera == b.camera && a.width == b.width && a.height == b.height && a.binning_x == b.binning_x &&
         a.binning_y == b.binning_y && same(a.gain_setting, b.gain_setting) && same(a.offset_setting, b.offset_setting);
}

const char* unusable(const InputFrame& f) {
  const FrameFacts& facts = f.facts();
  if (facts.planes != 1) return "a colour picture, no raw frame";
  if (facts.calibrated || facts.dark_subtracted) return "calibrated already";
  if (f.kind == FrameKind::kLight) return "a light: bias, darks and flats are measured here";
  if (f.kind == FrameKind::kUnknown) return "its header does not say whether it is bias, dark or flat";
  if (f.kind != FrameKind::kBias && !facts.exposure_s) return "its header has no exposure time";
  return nullptr;
}

void add_to(std::vector<SensorStep>& steps, std::size_t frame, double exposure_s, const std::string& filter) {
  const auto known = std::find_if(steps.begin(), steps.end(), [&](const SensorStep& s) {
    return s.filter == filter && std::fabs(s.exposure_s - exposure_s) <= kSameExposure * exposure_s;
  });
  if (known != steps.end()) {
    known->frames.push_back(frame);
  } else {
    steps.push_back({exposure_s, filter, {frame}});
  }
}

// Neighbours in temperature belong together while the gap is within the tolerance.
std::vector<std::vector<std::size_t>> by_temperature(const std::vector<InputFrame>& frames,
                                                     std::vector<std::size_t> members, double tolerance_c) {
  const auto celsius = [&](std::size_t i) { return frames[i].facts().sensor_temperature_c.value_or(-1e3); };
  std::stable_sort(members.begin(), members.end(), [&](auto a, auto b) { return celsius(a) < celsius(b); });
  std::vector<std::vector<std::size_t>> parts;
  for (std::size_t k = 0; k < members.size(); ++k) {
    if (k == 0 || celsius(members[k]) - celsius(members[k - 1]) > tolerance_c) parts.emplace_back();
    parts.back().push_back(members[k]);
  }
  for (auto& part : parts) std::sort(part.begin(), part.end());
  return parts;
}

SensorClimate climate_of(const std::vector<InputFrame>& frames, const std::vector<std::size_t>& members) {
  SensorClimate climate;
  double sum = 0, known = 0;
  for (const std::size_t i : members) {
    const FrameFacts& facts = frames[i].facts();
    if (facts.sensor_temperature_c) {
      sum += *facts.sensor_temperature_c;
      known += 1;
    }
    if (frames[i].kind == FrameKind::kBias) {
      climate.bias.push_back(i);
    } else if (frames[i].kind == FrameKind::kFlat) {
      add_to(climate.flats, i, *facts.exposure_s, facts.filter);
    } else {
      add_to(climate.darks, i, *facts.exposure_s, "");
    }
  }
  climate.known = known > 0;
  climate.temperature_c = known > 0 ? sum / known : 0;
  const auto shorter = [](const SensorStep& a, const SensorStep& b) { return a.exposure_s < b.exposure_s; };
  std::stable_sort(climate.darks.begin(), climate.darks.end(), shorter);
  std::stable_sort(climate.flats.begin(), climate.flats.end(), shorter);
  return climate;
}

}  // namespace

std::vector<SensorGroup> sort_sensor_frames(std::vector<InputFrame>& frames, double temperature_tolerance_c) {
  std::vector<SensorGroup> groups;
  std::vector<std::vector<std::size_t>> members;
  for (std::size_t i = 0; i < frames.size(); ++i) {
    if (!frames[i].usable()) continue;
    if (const char* reason = unusable(frames[i])) {
      frames[i].reason = reason;
      continue;
    }
    std::size_t g = 0;
    while (g < groups.size() && !same_setting(frames[groups[g].first].facts(), frames[i].facts())) ++g;
    if (g == groups.size()) {
      groups.push_back({i, {}});
      members.emplace_back();
    }
    members[g].push_back(i);
  }
  for (std::size_t g = 0; g < groups.size(); ++g)
    for (const auto& part : by_temperature(frames, members[g], temperature_tolerance_c))
      groups[g].climates.push_back(climate_of(frames, part));
  std::stable_sort(groups.begin(), groups.end(), [&](const SensorGroup& a, const SensorGroup& b) {
    const FrameFacts &x = frames[a.first].facts(), &y = frames[b.first].facts();
    return std::tuple(x.camera, x.gain_setting.value_or(-1), x.offset_setting.value_or(-1)) <
           std::tuple(y.camera, y.gain_setting.value_or(-1), y.offset_setting.value_or(-1));
  });
  return groups;
}

}  // namespace ng::app
