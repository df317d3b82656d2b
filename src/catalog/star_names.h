// catalog/star_names.h - the stars that people call by a letter or a number: "alpha Ori", "58 Ori".
//
// A text table, brightest first, one star a line: right ascension and declination (J2000, degrees), V, name, between
// tabs.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"
#include "sky/gnomonic.h"

namespace ng::catalog {

struct NamedStar {
  sky::Direction place;
  double v_mag = 0;
  std::string name;
};

// Errors: kNotFound, kCorrupt (with the line).
[[nodiscard]] Result<std::vector<NamedStar>> read_star_names(const std::filesystem::path& path);

}  // namespace ng::catalog
