// app/calibration_wish.h - calibration.toml of a workspace: how near calibration frames must be, and how many are
// wanted.
//
//   exposure_tolerance_percent = 2     darks against their lights
//   temperature_tolerance_c = 2        darks and bias
//   rotation_tolerance_deg = 1         flats
//   darks = 20                         of each kind; also flats, bias, dark_flats
//   old_after_days = 365
// Every key may be left out, and the file too.
#pragma once

#include <filesystem>

#include "app/calibration_rule.h"
#include "base/result.h"

namespace ng::app {

struct CalibrationWish {
  CalibrationTolerance tolerance;
  int darks = 20, flats = 20, bias = 20, dark_flats = 20;
  double old_after_days = 365;

  [[nodiscard]] int count(FrameKind kind) const;
};

// Errors: kInvalidInput "FILE:LINE: KEY: what", kIo.
[[nodiscard]] Result<CalibrationWish> read_calibration_wish(const std::filesystem::path& workspace);
[[nodiscard]] Result<CalibrationWish> parse_calibration_wish(const std::string& text, const std::string& name);

}  // namespace ng::app
