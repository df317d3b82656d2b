#include "rig/guide_optics.h"

#include <fmt/format.h>

#include "base/angle.h"

namespace ng::rig {

Result<void> GuideOptics::validate() const {
  const auto positive = [](const char* field, double value) -> Result<void> {
    if (value > 0) return {};
    return Error(Code::kInvalidInput, fmt::format("{} is {}: it must be positive", field, value));
  };
  NG_CHECK(positive("aperture_mm", aperture_mm));
  NG_CHECK(positive("focal_length_mm", focal_length_mm));
  return positive("pixel_um", pixel_um);
}

double GuideOptics::scale_arcsec_px() const {
  return pixel_um * 1e-3 / focal_length_mm * kArcsecPerRadian;
}

double guide_pixels_per_main_pixel(const GuideOptics& guide, double main_scale_arcsec_px) {
  return main_scale_arcsec_px / guide.scale_arcsec_px();
}

}  // namespace ng::rig
