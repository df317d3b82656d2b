// catalog/star_code.h - the shape of four points in four numbers that no shift, turn or scale changes.
//
// The two points farthest apart, A and B, become 0 and 1 of the complex plane; the places of the other two, C and D,
// are the code: (xC, yC, xD, yD) (Lang, Hogg, Mierle, Blanton & Roweis 2010, AJ 139, 1782, section 2.1). A and B are
// named so that xC + xD <= 1, C and D so that xC <= xD. Mirroring changes the signs of yC and yD.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "math/transform.h"

namespace ng::catalog {

using StarCode = std::array<double, 4>;

struct CodedFour {
  StarCode code{};
  std::array<std::uint32_t, 4> star{};  // A, B, C, D
  double longest = 0;                   // distance from A to B, in the unit of the points
};

// Nothing when two points coincide or when the next longest side is longer than 0.98 of the longest: centroid errors
// would then decide which points are A and B.
[[nodiscard]] std::optional<CodedFour> code_of(const std::array<math::Point, 4>& points,
                                               const std::array<std::uint32_t, 4>& names);
[[nodiscard]] StarCode mirrored(const StarCode& code);
// The code itself, and those of the other namings that are allowed when the coordinates change by up to `tolerance`.
[[nodiscard]] std::vector<CodedFour> namings(const CodedFour& four, double tolerance);

}  // namespace ng::catalog
