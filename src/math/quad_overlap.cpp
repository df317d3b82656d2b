#include "math/quad_overlap.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstddef>

namespace ng::math {
namespace {

// A piece of an edge within one row of pixels: `dy` signed, from xa to xb; x counts from the window's left border.
// Right of it lies all of the later pixels, and of a pixel that it crosses what is right of the mean of its ends.
void add_piece(double xa, double xb, double dy, double* row, int width) {
  if (xa > xb) std::swap(xa, xb);
  const int first = std::clamp(static_cast<int>(xa), 0, width - 1);
  const int last = std::clamp(static_cast<int>(xb), 0, width - 1);
  // row[i] holds what the sum over pixels gains at i: the share in the crossed pixel, the rest in the next.
  const auto add = [&](int i, double height, double mean_x) {
    const double right = height * (i + 1 - mean_x);
    row[i] += right;
    if (i + 1 < width) row[i + 1] += height - right;
  };
  if (first == last) {
    add(first, dy, 0.5 * (xa + xb));
    return;
  }
  const double slope = dy / (xb - xa);
  double from = xa;
  for (int i = first; i <= last; ++i) {
    const double to = i == last ? xb : i + 1.0;
    add(i, slope * (to - from), 0.5 * (from + to));
    from = to;
  }
}

}  // namespace

PixelWindow window_of(const std::array<Point, 4>& q) {
  const double left = std::min(std::min(q[0].x, q[1].x), std::min(q[2].x, q[3].x));
  const double right = std::max(std::max(q[0].x, q[1].x), std::max(q[2].x, q[3].x));
  const double top = std::min(std::min(q[0].y, q[1].y), std::min(q[2].y, q[3].y));
  const double bottom = std::max(std::max(q[0].y, q[1].y), std::max(q[2].y, q[3].y));
  const int x0 = static_cast<int>(std::floor(left + 0.5));
  const int y0 = static_cast<int>(std::floor(top + 0.5));
  return {x0, y0, static_cast<int>(std::floor(right + 0.5)) - x0 + 1,
          static_cast<int>(std::floor(bottom + 0.5)) - y0 + 1};
}

void quad_overlap(const std::array<Point, 4>& quad, const PixelWindow& window, std::span<double> areas) {
  assert(areas.size() == static_cast<std::size_t>(window.width) * static_cast<std::size_t>(window.height));
  std::fill(areas.begin(), areas.end(), 0.0);
  const double left = window.x0 - 0.5;
  const double top = window.y0 - 0.5;
  double doubled_area = 0;
  for (int k = 0; k < 4; ++k) {
    const Point a{quad[static_cast<std::size_t>(k)].x - left, quad[static_cast<std::size_t>(k)].y - top};
    const Point b{quad[static_cast<std::size_t>((k + 1) % 4)].x - left,
                  quad[static_cast<std::size_t>((k + 1) % 4)].y - top};
    doubled_area += a.x * b.y - b.x * a.y;
    if (a.y == b.y) continue;
    const double sign = b.y > a.y ? 1 : -1;
    const Point& low = b.y > a.y ? a : b;
    const Point& high = b.y > a.y ? b : a;
    const double slope = (high.x - low.x) / (high.y - low.y);
    const int first = std::clamp(static_cast<int>(low.y), 0, window.height - 1);
    const int last = std::clamp(static_cast<int>(high.y), 0, window.height - 1);
    double y = low.y, x = low.x;
    for (int j = first; j <= last; ++j) {
      const double to_y = j == last ? high.y : j + 1.0;
      const double to_x = j == last ? high.x : low.x + slope * (to_y - low.y);
      add_piece(x, to_x, sign * (to_y - y), areas.data() + static_cast<std::ptrdiff_t>(j) * window.width, window.width);
      y = to_y;
      x = to_x;
    }
  }
  // Right of a downward edge minus right of an upward one: negative inside where the corners run with y downwards on
  // the left.
  const double orientation = doubled_area > 0 ? -1 : 1;
  for (int j = 0; j < window.height; ++j) {
    double sum = 0;
    for (int i = 0; i < window.width; ++i) {
      double& area =
          areas[static_cast<std::size_t>(j) * static_cast<std::size_t>(window.width) + static_cast<std::size_t>(i)];
      sum += area;
      area = std::max(0.0, orientation * sum);
    }
  }
}

}  // namespace ng::math
