// rig/guide_optics.h - the small telescope and camera that watch a star.
#pragma once

#include "base/result.h"

namespace ng::rig {

struct GuideOptics {
  double aperture_mm = 0;
  double focal_length_mm = 0;
  double pixel_um = 0;
  int width = 0;  // pixels; 0: not known
  int height = 0;

  [[nodiscard]] Result<void> validate() const;  // kInvalidInput, naming field and value
  [[nodiscard]] double scale_arcsec_px() const;
};

// How many guide pixels a move of one pixel of the main camera is; by it a dither in main pixels becomes one of the
// guider.
[[nodiscard]] double guide_pixels_per_main_pixel(const GuideOptics& guide, double main_scale_arcsec_px);

}  // namespace ng::rig
