// sky/dark_sky.h - the moonless sky is brighter towards the horizon.
//
// Krisciunas & Schaefer 1991, PASP 103, 1033: B0(z) = B_zenith 10^(-0.4 k (X - 1)) X with their own airmass, eq. (3),
// X = (1 - 0.96 sin^2 z)^(-1/2), which saturates at 5 on the horizon and belongs to this model alone. The model agrees
// with observed skies to 8-23 % (their abstract). Town light, which has its own directions, is not in it.
#pragma once

namespace ng::sky {

// Sky brightness (linear, any unit) at zenith distance z relative to the zenith; k in mag per airmass.
[[nodiscard]] double dark_sky_ratio(double zenith_distance_rad, double extinction_mag_airmass);

}  // namespace ng::sky
