// finish/star_balance.h - colour balance from the stars of the field.
//
// White reference: the mean star of the field. Sensor, filters and air give each channel its own throughput; the median
// ratio of the fluxes of many stars shows it, and factors are chosen that make the median star neutral. (Fields differ:
// the mean star of a few hundred is near spectral type G to K. Common practice, no source.) Fluxes are sums over a
// small aperture, less the median of a ring around it.
#pragma once

#include <array>
#include <span>

#include "base/image.h"
#include "frame/star_list.h"

namespace ng::finish {

struct BalanceOptions {
  double min_snr = 20;  // of a star in each channel
  int max_stars = 400;  // the brightest that qualify
};

struct ColourBalance {
  double red_factor = 1;   // multiply red by this; green stays
  double blue_factor = 1;  // and blue by this
  double red_error = 0;    // standard error of the factor (that of a median, 1.2533 sigma / sqrt(n))
  double blue_error = 0;
  int stars = 0;
  bool doubtful = true;  // fewer than 10 stars; with fewer than 3 the factors are 1
};

// Channels R, G, B with their sky at 0, no NaN; stars in the same pixel coordinates. Saturated, cut and blended stars
// are left out.
[[nodiscard]] ColourBalance balance_from_stars(std::array<View<const float>, 3> rgb, std::span<const Star> stars,
                                               double fwhm_px, const BalanceOptions& options);

}  // namespace ng::finish
