// math/point_index.h - nearest neighbours among points of the plane (a k-d tree).
#pragma once

#include <memory>
#include <span>
#include <utility>
#include <vector>

#include "math/transform.h"

namespace ng::math {

class PointIndex {
 public:
  explicit PointIndex(std::span<const Point> points);  // copies them
  PointIndex(PointIndex&&) noexcept;
  PointIndex& operator=(PointIndex&&) noexcept;
  ~PointIndex();

  // Index of the nearest point and the squared distance to it; index -1 when there are no points.
  [[nodiscard]] std::pair<int, double> nearest(Point p) const;
  // The k nearest, nearest first; fewer when there are fewer.
  [[nodiscard]] std::vector<int> nearest(Point p, int k) const;
  // All within the radius, in order of index.
  [[nodiscard]] std::vector<int> within(Point p, double radius) const;

 private:
  struct Tree;
  std::unique_ptr<Tree> tree_;
};

}  // namespace ng::math
