// sky/sun_moon.h - Sun and Moon as seen from a site.
//
// Sun: ERFA eraEpv00 (5 km, 0.01 arcsec). Moon: ERFA eraMoon98 (the series of Meeus, Astronomical Algorithms 2nd ed.,
// ch. 47); against an independent lunar theory at 150,000 moments of 2000-2080: 2.8 arcsec rms, 14.6 arcsec at worst.
// Both topocentric, with light time and aberration.
#pragma once

#include "sky/moment.h"

namespace ng::sky {

struct BodyPlace {
  Direction apparent;      // topocentric, true equator and equinox of date
  double distance_au = 0;  // from the site, one light time ago
};

inline constexpr double kAuKm = 149597870.7;  // IAU 2012

[[nodiscard]] BodyPlace sun(const Moment& moment);
[[nodiscard]] BodyPlace moon(const Moment& moment);

// Angular radius of the Moon's disc seen at that distance: radius 0.2725076 of the Earth's 6378.137 km (IAU 1982).
[[nodiscard]] double moon_semidiameter_rad(double distance_au);
// Angular radius of the Sun's disc: 959.63 arcsec at 1 au (Auwers; the value of the almanacs).
[[nodiscard]] double sun_semidiameter_rad(double distance_au);

// Light on the Moon as from the centre of the Earth (the almanacs' convention; from a site it differs by 1 % at most).
struct MoonPhase {
  double phase_angle_rad = 0;       // Sun-Moon-Earth: 0 full, pi new
  double illuminated_fraction = 0;  // of the disc, [0, 1]
  double elongation_rad = 0;        // Moon from Sun, [0, pi]
  bool waxing = false;
  double geocentric_distance_km = 0;
};
[[nodiscard]] MoonPhase moon_phase(const Moment& moment);

}  // namespace ng::sky
