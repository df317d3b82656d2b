// sky/planets.h - where the planets are, how large and how bright.
//
// VSOP87B (Bretagnon & Francou 1988), leading terms: within 1950-2100 the truncation costs 15 arcsec at most as seen
// from the Earth (tests/reference/sky_check.py). Magnitudes and radii at 1 au: The Astronomical Almanac's of 1984 and
// since, as in Meeus, Astronomical Algorithms 2nd ed., chapters 41 and 55; Saturn with its ring, its position angle
// term left out.
#pragma once

#include <array>
#include <string_view>

#include "sky/sun_moon.h"

namespace ng::sky {

enum class Planet { kMercury, kVenus, kMars, kJupiter, kSaturn, kUranus, kNeptune };
inline constexpr std::array kPlanets{Planet::kMercury, Planet::kVenus,  Planet::kMars,   Planet::kJupiter,
                                     Planet::kSaturn,  Planet::kUranus, Planet::kNeptune};
[[nodiscard]] std::string_view planet_name(Planet planet);

struct PlanetPlace {
  BodyPlace body;
  Direction astrometric;  // ICRS, light time taken off, no aberration
  double v_mag = 0;
  double diameter_rad = 0;          // of the equator
  double illuminated_fraction = 0;  // of the disc
  double elongation_rad = 0;        // from the Sun, [0, pi]
};
[[nodiscard]] PlanetPlace planet(const Moment& moment, Planet which);

// Heliocentric place, ICRS axes, au; t in Julian millennia (TT) since J2000.
[[nodiscard]] Vector heliocentric_au(Planet which, double millennia);

// Magnitude from the distances to Sun and Earth (au) and the phase angle; ring_sine is sin B of Saturn's ring, else 0.
[[nodiscard]] double planet_magnitude(Planet which, double sun_au, double earth_au, double phase_angle_rad,
                                      double ring_sine);

}  // namespace ng::sky
