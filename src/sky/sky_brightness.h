// sky/sky_brightness.h - the sky behind a target: dark sky, moonlight and twilight, added as light.
#pragma once

#include <optional>

#include "sky/moonlight.h"

namespace ng::sky {

// Light of twilight at the zenith, V mag/arcsec^2, by the Sun's altitude (negative below the horizon).
//
// Patat, Ugolnikov & Postylyakov 2006, A&A 455, 385, their fit for V (from memory): 11.84 + 1.518 x - 0.057 x^2 with
// x = zenith distance of the Sun - 95 degrees, 0 <= x <= 5. Their measurements beyond hold the night sky as well; taken
// out of them, the light goes on along the tangent at x = 5 (0.95 mag per degree; derived, their fit at x = 10 is met
// to 0.05 mag with a night sky of 21.65). Above -5 degrees of altitude the line of slope 1.518, never brighter
// than 3.0. Nothing below -18 degrees. Away from the zenith, towards the Sun, it is brighter by a magnitude and more.
[[nodiscard]] std::optional<double> twilight_mag_arcsec2(double sun_altitude_rad);

struct SkyLight {
  double dark_zenith_mag_arcsec2 = 21.587;  // 79 nL, the zenith of Krisciunas & Schaefer; the site's own when known
  double extinction_mag_airmass = 0.172;
  double target_zenith_distance_rad = 0;
  double sun_altitude_rad = -1;
  double moon_zenith_distance_rad = 3;  // beyond 90 degrees: no Moon
  double moon_separation_rad = 1;
  double moon_phase_angle_rad = 3;
};
// V mag/arcsec^2 behind a target above the horizon.
[[nodiscard]] double sky_mag_arcsec2(const SkyLight& light);

}  // namespace ng::sky
