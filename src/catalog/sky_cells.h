// catalog/sky_cells.h - cells of equal area on the sphere, numbered so that neighbours on the sky are neighbours on
// disk.
//
// HEALPix in its nested order (Gorski et al. 2005, ApJ 622, 759), by the library chealpix: 12 x 4^order cells; the cell
// c of one order holds the cells 4 c ... 4 c + 3 of the next.
#pragma once

#include <cstdint>
#include <vector>

#include "math/vec3.h"

namespace ng::catalog {

inline constexpr int kDeepestOrder = 13;  // cell numbers then fit into 32 bits; a cell is 26 arcsec wide

[[nodiscard]] std::uint32_t sky_cell(int order, const math::Vec3& direction);

// Cells first ... last - 1 of an order.
struct CellRange {
  std::uint32_t first = 0;
  std::uint32_t last = 0;
};
// Ranges that together hold every cell touched by the disc, in order, at the order returned: deep enough that little
// else comes with them (cells of about a quarter of the radius). radius_rad in (0, pi].
struct CellCover {
  int order = 0;
  std::vector<CellRange> ranges;
};
[[nodiscard]] CellCover cells_in_disc(const math::Vec3& centre, double radius_rad);
// The same cells, or those that hold them, at another order.
[[nodiscard]] CellRange at_order(CellRange range, int from_order, int to_order);

}  // namespace ng::catalog
