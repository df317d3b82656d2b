#include "sky/moonlight.h"

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "sky/extinction.h"

namespace ng::sky {

double nanolamberts(double v_mag_arcsec2) {
  return 34.08 * std::exp(20.7233 - 0.92104 * v_mag_arcsec2);
}

double mag_arcsec2(double brightness) {
  return (20.7233 - std::log(brightness / 34.08)) / 0.92104;
}

double krisciunas_schaefer_airmass(double zenith_distance_rad) {
  const double s = std::sin(zenith_distance_rad);
  return 1 / std::sqrt(1 - 0.96 * s * s);
}

double moon_illuminance(double phase_angle_rad) {
  const double alpha = std::fabs(rad_to_deg(phase_angle_rad));
  return std::pow(10.0, -0.4 * (3.84 + 0.026 * alpha + 4e-9 * alpha * alpha * alpha * alpha));
}

double scattering(double separation_rad) {
  constexpr double kAureoleDeg = 10, kClosestDeg = 0.25;  // nearer, the disc itself is in the field
  const double rho = std::max(kClosestDeg, rad_to_deg(separation_rad));
  const double cosine = std::cos(separation_rad);
  const double molecules = std::pow(10.0, 5.36) * (1.06 + cosine * cosine);
  const double aerosol = rho < kAureoleDeg ? 6.2e7 / (rho * rho) : std::pow(10.0, 6.15 - rho / 40);
  return molecules + aerosol;
}

double moonlight_nanolamberts(const MoonGlare& glare) {
  if (glare.moon_zenith_distance_rad >= kPi / 2) return 0;
  const double k = glare.extinction_mag_airmass;
  const double moon_air = krisciunas_schaefer_airmass(glare.moon_zenith_distance_rad);
  const double target_air = krisciunas_schaefer_airmass(std::min(glare.zenith_distance_rad, kPi / 2));
  return scattering(glare.separation_rad) * moon_illuminance(glare.phase_angle_rad) * transmission(k, moon_air) *
         (1 - transmission(k, target_air));
}

}  // namespace ng::sky
