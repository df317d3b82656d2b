// app/calibration_rule.h - which calibration frame belongs to which frame: the one rule, for reduction and for the
// shelf.
//
// Bias: sensor, gain, offset, temperature. Dark (to its light) and dark-flat (to its flat): exposure too. Flat: sensor,
// gain, offset, filter and rotation, at any temperature. What one side does not state is no contradiction, but for the
// exposure, without which a dark is none.
#pragma once

#include <optional>
#include <string>

#include "frame/facts.h"
#include "store/library_index.h"

namespace ng::app {

struct CalibrationTolerance {
  double exposure_share = 0.02;
  double temperature_c = 2.0;
  double rotation_deg = 1.0;
};

struct CalibrationFacts {
  FrameKind kind = FrameKind::kUnknown;
  std::string camera, filter;
  int width = 0, height = 0, binning_x = 1, binning_y = 1;
  std::optional<double> exposure_s, gain_setting, offset_setting, temperature_c, rotation_deg;
};
// The kind is what the caller takes the frame for: headers may not tell.
[[nodiscard]] CalibrationFacts calibration_facts(const FrameFacts& facts, FrameKind kind);
[[nodiscard]] CalibrationFacts calibration_facts(const store::LibraryFrame& frame);

// What parts two frames; 0: nothing.
enum CalibrationMismatch : unsigned {
  kOtherSensor = 1,  // size, binning, or a camera of another name
  kOtherGain = 2,    // or offset
  kOtherExposure = 4,
  kOtherTemperature = 8,
  kOtherFilter = 16,
  kOtherRotation = 32
};
[[nodiscard]] unsigned calibration_mismatch(const CalibrationFacts& calibration, const CalibrationFacts& like,
                                            const CalibrationTolerance& tolerance);

}  // namespace ng::app
