#include "math/circle_overlap.h"

#include <algorithm>
#include <cmath>

namespace ng::math {
namespace {

// Area of the circle within x0 <= x <= x1, y0 <= y <= y1, all of them >= 0. The arc falls from the left: up to `left`
// it runs above the rectangle, from `right` on below it.
double quadrant_area(double x0, double x1, double y0, double y1, double r) {
  const double square = r * r;
  if (x0 * x0 + y0 * y0 >= square) return 0;
  if (x1 * x1 + y1 * y1 <= square) return (x1 - x0) * (y1 - y0);
  const auto arc = [square](double u) { return std::sqrt(std::max(0.0, square - u * u)); };
  const double left = std::clamp(arc(y1), x0, x1);
  const double right = std::clamp(arc(y0), x0, x1);
  const double high = arc(left);
  const double low = arc(right);
  const double angle = std::atan2(right * high - left * low, left * right + high * low);
  const double under_arc = 0.5 * (right * low - left * high + square * angle);
  return (left - x0) * (y1 - y0) + under_arc - y0 * (right - left);
}

}  // namespace

double circle_pixel_overlap(double dx, double dy, double radius) {
  const double x = std::fabs(dx), y = std::fabs(dy);
  const double x0 = x - 0.5, x1 = x + 0.5, y0 = y - 0.5, y1 = y + 0.5;
  if (x1 * x1 + y1 * y1 <= radius * radius) return 1;
  // A pixel that an axis crosses is cut along it.
  const auto column = [&](double low, double high) {
    const double area = quadrant_area(std::max(x0, 0.0), x1, low, high, radius);
    return x0 < 0 ? area + quadrant_area(0, -x0, low, high, radius) : area;
  };
  const double area = column(std::max(y0, 0.0), y1);
  return y0 < 0 ? area + column(0, -y0) : area;
}

}  // namespace ng::math
