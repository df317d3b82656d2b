// math/circle_overlap_slow.h - the same area from the four corners of the pixel: plain, and an arcsine for each. For
// tests.
#pragma once

#include <algorithm>
#include <cmath>

namespace ng::math::slow {

// Area of the circle within 0 <= x' <= x, 0 <= y' <= y (x, y >= 0): a rectangle cut by an arc.
inline double corner_area(double x, double y, double r) {
  x = std::min(x, r);
  y = std::min(y, r);
  if (x * x + y * y <= r * r) return x * y;
  // Left of `foot` the arc is higher than y.
  const double foot = std::sqrt(r * r - y * y);
  const auto under_arc = [r](double u) {
    return 0.5 * (u * std::sqrt(std::max(0.0, r * r - u * u)) + r * r * std::asin(std::min(1.0, u / r)));
  };
  return foot * y + under_arc(x) - under_arc(foot);
}

inline double signed_area(double x, double y, double r) {
  const double a = corner_area(std::fabs(x), std::fabs(y), r);
  return (x < 0) != (y < 0) ? -a : a;
}

inline double circle_pixel_overlap(double dx, double dy, double radius) {
  const double x0 = dx - 0.5, x1 = dx + 0.5, y0 = dy - 0.5, y1 = dy + 0.5;
  return signed_area(x1, y1, radius) - signed_area(x0, y1, radius) - signed_area(x1, y0, radius) +
         signed_area(x0, y0, radius);
}

}  // namespace ng::math::slow
