// math/quad_overlap_slow.h - the area of a polygon within one pixel, by cutting the polygon along the four sides
// (Sutherland & Hodgman 1974, CACM 17, 32) and the shoelace formula. For tests only.
#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

#include "math/transform.h"

namespace ng::math::slow {

// Keeps the part of the polygon with a x + b y <= c.
inline std::vector<Point> cut(const std::vector<Point>& polygon, double a, double b, double c) {
  std::vector<Point> kept;
  for (std::size_t k = 0; k < polygon.size(); ++k) {
    const Point p = polygon[k], q = polygon[(k + 1) % polygon.size()];
    const double dp = a * p.x + b * p.y - c, dq = a * q.x + b * q.y - c;
    if (dp <= 0) kept.push_back(p);
    if ((dp < 0 && dq > 0) || (dp > 0 && dq < 0)) {
      const double t = dp / (dp - dq);
      kept.push_back({p.x + t * (q.x - p.x), p.y + t * (q.y - p.y)});
    }
  }
  return kept;
}

inline double area(const std::vector<Point>& polygon) {
  double doubled = 0;
  for (std::size_t k = 1; k + 1 < polygon.size(); ++k) {  // triangles from the first corner: small numbers
    const Point o = polygon[0], p = polygon[k], q = polygon[k + 1];
    doubled += (p.x - o.x) * (q.y - o.y) - (q.x - o.x) * (p.y - o.y);
  }
  return std::fabs(doubled) / 2;
}

inline double pixel_overlap(std::vector<Point> polygon, int x, int y) {
  polygon = cut(polygon, 1, 0, x + 0.5);
  polygon = cut(polygon, -1, 0, 0.5 - x);
  polygon = cut(polygon, 0, 1, y + 0.5);
  polygon = cut(polygon, 0, -1, 0.5 - y);
  return area(polygon);
}

}  // namespace ng::math::slow
