// sky/airmass.h - how much air the light of a star crosses, relative to the zenith.
//
// Kasten & Young 1989, Applied Optics 28, 4735, eq. (3): X = 1 / (sin h + 0.50572 (h + 6.07995 deg)^-1.6364), h the
// apparent altitude in degrees. Good to 0.5 % of their table down to the horizon (X = 38). The formula gives 0.99971 at
// the zenith, where airmass is 1 by definition: airmass() clamps there, kasten_young() is the formula as printed.
#pragma once

namespace ng::sky {

// altitude_rad in [0, pi/2].
[[nodiscard]] double kasten_young(double altitude_rad);
// Never below 1; infinite below the horizon, where nothing is seen.
[[nodiscard]] double airmass(double altitude_rad);

}  // namespace ng::sky
