#include "sky/constellation.h"

#include <algorithm>
#include <cassert>
#include <cctype>

#include "base/angle.h"
#include "sky/coordinates.h"

namespace ng::sky {

const ConstellationName* constellation_by_abbreviation(std::string_view abbreviation) {
  const auto same = [](char a, char b) {
    return std::tolower(static_cast<unsigned char>(a)) == std::tolower(static_cast<unsigned char>(b));
  };
  for (const ConstellationName& c : constellation_names())
    if (std::equal(c.abbreviation.begin(), c.abbreviation.end(), abbreviation.begin(), abbreviation.end(), same))
      return &c;
  return nullptr;
}

const ConstellationName& constellation(Direction icrs) {
  const Direction old = equinox_1875(icrs);
  const double ra_h = rad_to_deg(old.ra_rad) / 15, dec_deg = rad_to_deg(old.dec_rad);
  const auto rows = constellation_rows();
  const auto row = std::find_if(rows.begin(), rows.end(), [&](const ConstellationRow& r) {
    return dec_deg >= r.south_deg && ra_h >= r.ra_from_h && ra_h < r.ra_to_h;
  });
  assert(row != rows.end());  // the last row holds all that is left, down to the pole
  return *constellation_by_abbreviation(row->abbreviation);
}

}  // namespace ng::sky
