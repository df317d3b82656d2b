// sky/coordinates.h - angles between directions, and other axes.
#pragma once

#include "sky/gnomonic.h"

namespace ng::sky {

// Great-circle distance, [0, pi]; accurate near 0 and near pi.
[[nodiscard]] double separation_rad(Direction a, Direction b);
// Direction of `to` as seen from `from`: from north through east, [0, 2 pi).
[[nodiscard]] double position_angle_rad(Direction from, Direction to);
// The place at that distance and position angle.
[[nodiscard]] Direction moved(Direction from, double distance_rad, double position_angle_rad);

// Position angle of the zenith at a star: positive west of the meridian, (-pi, pi].
[[nodiscard]] double parallactic_angle_rad(double hour_angle_rad, double dec_rad, double latitude_rad);

struct Galactic {
  double longitude_rad = 0;  // l, [0, 2 pi)
  double latitude_rad = 0;   // b
};
// ICRS to galactic axes as ESA 1997 (Hipparcos, vol. 1, section 1.5.3) fixes them; ERFA eraIcrs2g.
[[nodiscard]] Galactic galactic(Direction icrs);

// Mean place of the equinox B1875 (Newcomb's precession as in IAU 1976; 0.1 arcsec), in which constellations are
// bounded.
[[nodiscard]] Direction equinox_1875(Direction icrs);

}  // namespace ng::sky
