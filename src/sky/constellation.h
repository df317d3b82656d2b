// sky/constellation.h - in which constellation a place lies.
#pragma once

#include "sky/constellation_table.h"
#include "sky/gnomonic.h"

namespace ng::sky {

// The method of Roman 1987, PASP 99, 695: the place is brought to the equinox B1875 and looked up in a table of strips.
// Right to the last digits of the table, 0.1 s of right ascension; on the very edge of a boundary either may come.
[[nodiscard]] const ConstellationName& constellation(Direction icrs);

// The name for an abbreviation, in any case of letters; null when there is none.
[[nodiscard]] const ConstellationName* constellation_by_abbreviation(std::string_view abbreviation);

}  // namespace ng::sky
