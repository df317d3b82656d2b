#include "app/shelf_gaps.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace ng::app {

std::string near_misses(const CalibrationFacts& wanted, const std::vector<store::LibraryFrame>& frames,
                        const CalibrationTolerance& tolerance) {
  static constexpr std::pair<CalibrationMismatch, const char*> kWords[] = {
      {kOtherGain, "gain or offset"}, {kOtherExposure, "exposure"}, {kOtherTemperature, "temperature"},
      {kOtherFilter, "filter"},       {kOtherRotation, "rotation"}, {kOtherSensor, "camera, size or binning"}};
  std::string text;
  for (const auto& [bit, word] : kWords) {
    const auto count = std::count_if(frames.begin(), frames.end(), [&, off = bit](const store::LibraryFrame& f) {
      return f.kind == wanted.kind && calibration_mismatch(calibration_facts(f), wanted, tolerance) == off;
    });
    if (count > 0) text += fmt::format("{} {} of another {}", text.empty() ? "" : ",", count, word);
  }
  return text.empty() ? text : "there, but not fit:" + text;
}

std::vector<std::string> cost_of_darks(const CalibrationFacts& wanted, int have, int count, const SubNoise& light,
                                       const rig::Sensor& sensor, const std::vector<store::LibraryFrame>& frames,
                                       const CalibrationTolerance& tolerance) {
  const double seconds = *wanted.exposure_s, celsius = *wanted.temperature_c;
  std::vector<std::string> notes;
  if (have < count) notes.push_back(cost_of_count(sensor, seconds, celsius, have, count, light));
  if (have > 0) return notes;
  for (const unsigned off : {kOtherTemperature, kOtherExposure}) {
    const auto distance = [&](const store::LibraryFrame& f) {
      return off == kOtherTemperature ? std::fabs(*f.sensor_temperature_c - celsius)
                                      : std::fabs(std::log(std::max(*f.exposure_s, 1e-6) / seconds));
    };
    const store::LibraryFrame* nearest = nullptr;
    for (const store::LibraryFrame& f : frames) {
      if (f.kind != FrameKind::kDark || !f.sensor_temperature_c || !f.exposure_s) continue;
      if (calibration_mismatch(calibration_facts(f), wanted, tolerance) != off) continue;
      if (nearest == nullptr || distance(f) < distance(*nearest)) nearest = &f;
    }
    if (nearest == nullptr) continue;
    notes.push_back(
        cost_of_others(sensor, seconds, celsius, *nearest->exposure_s, *nearest->sensor_temperature_c, light));
    break;
  }
  return notes;
}

}  // namespace ng::app
