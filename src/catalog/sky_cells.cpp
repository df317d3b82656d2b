#include "catalog/sky_cells.h"

#include <chealpix.h>

#include <algorithm>
#include <array>

namespace ng::catalog {
namespace {

// More than the largest distance from the centre of a cell to one of its corners: that is 0.84 rad at order 0 and rises
// towards 1.07 / nside, at the cells that touch the latitude of 42 degrees (sin = 2/3) with a corner.
double reach_rad(int order) {
  return 1.1 / static_cast<double>(std::int64_t{1} << order);
}

void descend(int order, std::uint32_t cell, int deepest, const math::Vec3& centre, double radius,
             std::vector<CellRange>& out) {
  std::array<double, 3> middle{};
  pix2vec_nest64(std::int64_t{1} << order, cell, middle.data());
  const double apart = math::separation(middle, centre);
  if (apart > radius + reach_rad(order)) return;
  const int below = 2 * (deepest - order);
  if (order == deepest || apart + reach_rad(order) <= radius) {
    const CellRange range{cell << below, (cell + 1) << below};
    if (!out.empty() && out.back().last == range.first) {
      out.back().last = range.last;
    } else {
      out.push_back(range);
    }
    return;
  }
  for (std::uint32_t k = 0; k < 4; ++k) descend(order + 1, 4 * cell + k, deepest, centre, radius, out);
}

}  // namespace

std::uint32_t sky_cell(int order, const math::Vec3& direction) {
  std::int64_t cell = 0;
  vec2pix_nest64(std::int64_t{1} << order, direction.data(), &cell);
  return static_cast<std::uint32_t>(cell);
}

CellCover cells_in_disc(const math::Vec3& centre, double radius_rad) {
  CellCover cover;
  while (cover.order < kDeepestOrder && reach_rad(cover.order) > radius_rad / 3) ++cover.order;
  for (std::uint32_t base = 0; base < 12; ++base) descend(0, base, cover.order, centre, radius_rad, cover.ranges);
  return cover;
}

CellRange at_order(CellRange range, int from_order, int to_order) {
  if (to_order >= from_order) {
    const int shift = 2 * (to_order - from_order);
    return {range.first << shift, range.last << shift};
  }
  const int shift = 2 * (from_order - to_order);
  return {range.first >> shift, ((range.last - 1) >> shift) + 1};
}

}  // namespace ng::catalog
