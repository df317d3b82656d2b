// astrometry/field.h - the stars that a frame shows, as the solver takes them.
#pragma once

#include <span>
#include <vector>

#include "math/point_index.h"
#include "math/transform.h"

namespace ng::astrometry {

struct SeenStar {
  double x = 0, y = 0;    // 0-based pixels
  double error_px = 0.1;  // one axis, one standard deviation
  double flux = 0;
};

// Stars are brightest first.
struct Field {
  int width = 0;
  int height = 0;
  std::vector<SeenStar> stars;

  [[nodiscard]] math::Point middle() const { return {(width - 1) / 2.0, (height - 1) / 2.0}; }
  [[nodiscard]] double diagonal_px() const { return std::hypot(width, height); }
  [[nodiscard]] bool holds(math::Point p) const {
    return p.x > -0.5 && p.y > -0.5 && p.x < width - 0.5 && p.y < height - 0.5;
  }
};

[[nodiscard]] inline std::vector<math::Point> places(std::span<const SeenStar> stars) {
  std::vector<math::Point> points;
  points.reserve(stars.size());
  for (const SeenStar& s : stars) points.push_back({s.x, s.y});
  return points;
}

}  // namespace ng::astrometry
