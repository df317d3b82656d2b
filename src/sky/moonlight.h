// sky/moonlight.h - how much the Moon brightens the sky.
//
// Krisciunas & Schaefer 1991, PASP 103, 1033, V band; good to 8-23 % against observed skies (their abstract).
// Brightness in nanolamberts, as in the paper; their airmass, eq. (3), belongs to this model alone.
#pragma once

namespace ng::sky {

// Eq. (1): V in magnitudes per square arcsecond <-> nanolamberts.
[[nodiscard]] double nanolamberts(double v_mag_arcsec2);
[[nodiscard]] double mag_arcsec2(double nanolamberts);

// Eq. (3): 1 at the zenith, 5 on the horizon.
[[nodiscard]] double krisciunas_schaefer_airmass(double zenith_distance_rad);
// Eq. (8) with (9): foot-candles outside the air; phase angle 0 = full. The surge of the full Moon is not in it.
[[nodiscard]] double moon_illuminance(double phase_angle_rad);
// Eq. (16) to (21): light scattered by the angle between Moon and target; below 10 degrees the aureole, eq. (20).
[[nodiscard]] double scattering(double separation_rad);

struct MoonGlare {
  double phase_angle_rad = 0;
  double separation_rad = 0;            // Moon to target
  double moon_zenith_distance_rad = 0;  // beyond 90 degrees there is no moonlight
  double zenith_distance_rad = 0;       // of the target, up to 90 degrees
  double extinction_mag_airmass = 0.172;
};
// Eq. (15), nanolamberts.
[[nodiscard]] double moonlight_nanolamberts(const MoonGlare& glare);

}  // namespace ng::sky
