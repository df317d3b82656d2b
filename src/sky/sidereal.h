// sky/sidereal.h - where a star stands above the horizon at a moment.
//
// Mean sidereal time by Meeus, Astronomical Algorithms (2nd ed. 1998), eq. 12.4, with UTC taken for UT1 (they differ by
// less than 0.9 s = 14 arcsec). Precession, nutation, aberration and refraction are left out: the altitude is good to
// about 0.4 degrees in these decades, enough for airmass and for the time of the meridian; pointing needs more.
#pragma once

#include "base/instant.h"

namespace ng::sky {

// Greenwich mean sidereal time in radians, [0, 2 pi).
[[nodiscard]] double greenwich_sidereal_rad(Instant utc);

struct Observer {
  double latitude_rad = 0;   // north positive
  double longitude_rad = 0;  // east positive
};
// Hour angle in radians, (-pi, pi], west of the meridian positive.
[[nodiscard]] double hour_angle_rad(double ra_rad, const Observer& observer, Instant utc);
// Altitude without refraction, in radians.
[[nodiscard]] double altitude_rad(double ra_rad, double dec_rad, const Observer& observer, Instant utc);

}  // namespace ng::sky
