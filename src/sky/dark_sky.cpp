#include "sky/dark_sky.h"

#include <cmath>

#include "sky/extinction.h"

namespace ng::sky {

double dark_sky_ratio(double zenith_distance_rad, double extinction_mag_airmass) {
  const double s = std::sin(zenith_distance_rad);
  const double x = 1 / std::sqrt(1 - 0.96 * s * s);
  return transmission(extinction_mag_airmass, x - 1) * x;
}

}  // namespace ng::sky
