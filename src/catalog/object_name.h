// catalog/object_name.h - names of objects as people write them.
#pragma once

#include <string>
#include <string_view>

namespace ng::catalog {

// What two spellings of one name have in common: capitals and digits alone, no zeros in front of a number, "Messier" as
// "M", "Sharpless" as "Sh", accents kept as they are. "M 33", "m33", "Messier 033" -> "M33"; "NGC0598" -> "NGC598";
// "Sh2-155" -> "SH2155".
[[nodiscard]] std::string name_key(std::string_view name);

// How many letters must be changed, added, left out or swapped with a neighbour to make one key of the other
// (Damerau-Levenshtein, restricted); `limit` + 1 as soon as it is more than that.
[[nodiscard]] int key_distance(std::string_view a, std::string_view b, int limit);

}  // namespace ng::catalog
