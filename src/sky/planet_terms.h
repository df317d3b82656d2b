// sky/planet_terms.h - the leading terms of VSOP87B, heliocentric longitude, latitude and distance.
//
// Bretagnon & Francou 1988, A&A 202, 309; tables at CDS as VI/81. Kept: terms whose amplitude within a century of J2000
// reaches 3e-6 rad (0.6 arcsec; twice that, relative, in distance). tools/planet_terms.mjs cuts and writes
// them.
#pragma once

#include <cstdint>
#include <span>

namespace ng::sky {

// amplitude t^power cos(phase + frequency t), t in Julian millennia of TDB since J2000.
struct PlanetTerm {
  std::uint8_t planet;    // order of enum Planet
  std::uint8_t quantity;  // 0 longitude, 1 latitude (radians), 2 distance (au)
  std::uint8_t power;
  double amplitude, phase_rad, frequency_rad;
};
[[nodiscard]] std::span<const PlanetTerm> planet_terms();

}  // namespace ng::sky
