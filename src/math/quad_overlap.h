// math/quad_overlap.h - areas that a quadrilateral shares with the pixels of a grid, exactly.
//
// Green's theorem, pixel row by pixel row: each edge adds, within a row, its height times what lies right of it; sums
// along the row give the areas. Any simple quadrilateral, of either orientation (a mirrored map turns it over).
#pragma once

#include <array>
#include <span>

#include "math/transform.h"

namespace ng::math {

// A window of whole pixels: columns x0 ... x0 + width - 1, rows y0 ... y0 + height - 1. Pixel (x, y) covers
// [x - 1/2, x + 1/2) x [y - 1/2, y + 1/2).
struct PixelWindow {
  int x0 = 0, y0 = 0;
  int width = 0, height = 0;
};

// The smallest window that holds the quadrilateral. Its corners must be finite and within +-2^30.
[[nodiscard]] PixelWindow window_of(const std::array<Point, 4>& quad);

// Area of the quadrilateral within each pixel of its window, rows one after another: `areas` has width x height values.
void quad_overlap(const std::array<Point, 4>& quad, const PixelWindow& window, std::span<double> areas);

}  // namespace ng::math
