// measure/half_flux.h - radius of the circle that holds half of a star's light.
#pragma once

#include "base/image.h"

namespace ng::measure {

// Exact circular apertures around (x, y); `total` is the star's flux, `background` the sky per pixel. NaN pixels count
// as sky. Pixels enlarge it: for a Gaussian of width sigma about 1.1774 sqrt(sigma^2 + 1/6). The search sets out from
// `guess` (> 0), which need not be good. 0 when half of the flux is not found within max_radius.
[[nodiscard]] double half_flux_radius(View<const float> image, double x, double y, double background, double total,
                                      double guess, double max_radius);

}  // namespace ng::measure
