// rig/optics.h - the telescope as a bucket for light and a maker of scale.
#pragma once

#include <string>

#include "base/result.h"

namespace ng::rig {

struct Optics {
  std::string name;
  double aperture_mm = 0;      // clear diameter
  double obstruction_mm = 0;   // diameter of the central obstruction, 0 for a refractor
  double focal_length_mm = 0;  // of the telescope alone
  double throughput = 1;       // of all glass and mirrors together, without filter; 0..1
  double reducer = 1;          // what a reducer or extender makes of the focal length: 0.8, or 2

  [[nodiscard]] Result<void> validate() const;  // kInvalidInput, naming field and value

  [[nodiscard]] double area_cm2() const;  // pi/4 (D^2 - d^2)
  [[nodiscard]] double effective_focal_length_mm() const { return focal_length_mm * reducer; }
  [[nodiscard]] double focal_ratio() const { return effective_focal_length_mm() / aperture_mm; }
  // Angle of one pixel in the middle of the field, arcseconds.
  [[nodiscard]] double scale_arcsec_px(double pixel_um) const;
};

}  // namespace ng::rig
