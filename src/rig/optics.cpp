#include "rig/optics.h"

#include <fmt/format.h>

#include "base/angle.h"

namespace ng::rig {

Result<void> Optics::validate() const {
  if (!(aperture_mm > 0))
    return Error(Code::kInvalidInput, fmt::format("aperture_mm is {}: it must be positive", aperture_mm));
  if (!(obstruction_mm >= 0 && obstruction_mm < aperture_mm))
    return Error(Code::kInvalidInput,
                 fmt::format("obstruction_mm is {}: it must lie between 0 and the aperture ({} mm)", obstruction_mm,
                             aperture_mm));
  if (!(focal_length_mm > 0))
    return Error(Code::kInvalidInput, fmt::format("focal_length_mm is {}: it must be positive", focal_length_mm));
  if (!(throughput > 0 && throughput <= 1))
    return Error(Code::kInvalidInput, fmt::format("throughput of the optics is {}: it must lie in (0, 1]", throughput));
  if (!(reducer >= 0.2 && reducer <= 5))
    return Error(Code::kInvalidInput, fmt::format("reducer is {}: it must lie between 0.2 and 5", reducer));
  return {};
}

double Optics::area_cm2() const {
  return kPi / 4 * (aperture_mm * aperture_mm - obstruction_mm * obstruction_mm) / 100;
}

double Optics::scale_arcsec_px(double pixel_um) const {
  return pixel_um * 1e-3 / effective_focal_length_mm() * kArcsecPerRadian;
}

}  // namespace ng::rig
