#include "app/calibration_rule.h"

#include <cmath>

namespace ng::app {
namespace {

constexpr double kSameNumber = 1e-3;  // gain and offset are whole numbers or tenths

bool apart(const std::optional<double>& a, const std::optional<double>& b, double tolerance) {
  return a && b && std::fabs(*a - *b) > tolerance;
}

bool other_camera(const std::string& a, const std::string& b) {
  return !a.empty() && !b.empty() && a != b;
}

// Headers and the index call these facts alike.
template <typename Frame>
CalibrationFacts facts_of(const Frame& f, FrameKind kind) {
  return {kind,
          f.camera,
          f.filter,
          f.width,
          f.height,
          f.binning_x,
          f.binning_y,
          f.exposure_s,
          f.gain_setting,
          f.offset_setting,
          f.sensor_temperature_c,
          f.rotation_deg};
}

}  // namespace

CalibrationFacts calibration_facts(const FrameFacts& facts, FrameKind kind) {
  return facts_of(facts, kind);
}

CalibrationFacts calibration_facts(const store::LibraryFrame& frame) {
  return facts_of(frame, frame.kind);
}

unsigned calibration_mismatch(const CalibrationFacts& c, const CalibrationFacts& like,
                              const CalibrationTolerance& tolerance) {
  unsigned off = 0;
  if (c.width != like.width || c.height != like.height || c.binning_x != like.binning_x ||
      c.binning_y != like.binning_y || other_camera(c.camera, like.camera))
    off |= kOtherSensor;
  if (apart(c.gain_setting, like.gain_setting, kSameNumber) ||
      apart(c.offset_setting, like.offset_setting, kSameNumber))
    off |= kOtherGain;
  if (c.kind == FrameKind::kFlat) {
    if (c.filter != like.filter) off |= kOtherFilter;
    if (apart(c.rotation_deg, like.rotation_deg, tolerance.rotation_deg)) off |= kOtherRotation;
    return off;
  }
  if (apart(c.temperature_c, like.temperature_c, tolerance.temperature_c)) off |= kOtherTemperature;
  if (c.kind != FrameKind::kBias &&
      !(c.exposure_s && like.exposure_s &&
        std::fabs(*c.exposure_s - *like.exposure_s) <= tolerance.exposure_share * *like.exposure_s))
    off |= kOtherExposure;
  return off;
}

}  // namespace ng::app
