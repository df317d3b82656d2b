// sky/constellation_table.h - the boundaries of the constellations as a table of strips.
//
// Roman 1987, PASP 99, 695 (CDS VI/42), the 357 rows as published there: the boundaries of Delporte 1930 in the equinox
// B1875. Names: the list of the IAU.
#pragma once

#include <span>
#include <string_view>

namespace ng::sky {

// The first row, from the north down, that holds a place gives its constellation.
struct ConstellationRow {
  double ra_from_h, ra_to_h;  // B1875
  double south_deg;           // lower limit of declination
  std::string_view abbreviation;
};
struct ConstellationName {
  std::string_view abbreviation;  // "Tri"
  std::string_view name;          // "Triangulum"
};
[[nodiscard]] std::span<const ConstellationRow> constellation_rows();
[[nodiscard]] std::span<const ConstellationName> constellation_names();

}  // namespace ng::sky
