// rig/curve.h - a quantity over wavelength: quantum efficiency, filter throughput.
#pragma once

#include <string>
#include <vector>

#include "base/result.h"

namespace ng::rig {

struct CurvePoint {
  double wavelength_nm = 0;
  double value = 0;
};

// Straight lines between points of rising wavelength; 0 beyond the ends.
struct Curve {
  std::vector<CurvePoint> points;

  [[nodiscard]] double at(double wavelength_nm) const;
  // kInvalidInput when there are fewer than two points, wavelengths do not rise, or a value lies outside 0..1.
  [[nodiscard]] Result<void> validate(const std::string& what) const;
};

}  // namespace ng::rig
