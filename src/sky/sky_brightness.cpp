#include "sky/sky_brightness.h"

#include <algorithm>

#include "base/angle.h"
#include "sky/dark_sky.h"

namespace ng::sky {

std::optional<double> twilight_mag_arcsec2(double sun_altitude_rad) {
  constexpr double kLevel = 11.84, kSlope = 1.518, kCurve = -0.057, kTangentFrom = 5, kDay = 3.0;
  const double x = -rad_to_deg(sun_altitude_rad) - 5;
  if (x > 13) return std::nullopt;
  if (x < 0) return std::max(kDay, kLevel + kSlope * x);
  const double curved = std::min(x, kTangentFrom);
  const double at = kLevel + curved * (kSlope + curved * kCurve);
  return at + (x - curved) * (kSlope + 2 * kCurve * kTangentFrom);
}

double sky_mag_arcsec2(const SkyLight& light) {
  double total = nanolamberts(light.dark_zenith_mag_arcsec2) *
                 dark_sky_ratio(light.target_zenith_distance_rad, light.extinction_mag_airmass);
  total +=
      moonlight_nanolamberts({light.moon_phase_angle_rad, light.moon_separation_rad, light.moon_zenith_distance_rad,
                              light.target_zenith_distance_rad, light.extinction_mag_airmass});
  if (const auto twilight = twilight_mag_arcsec2(light.sun_altitude_rad)) total += nanolamberts(*twilight);
  return mag_arcsec2(total);
}

}  // namespace ng::sky
