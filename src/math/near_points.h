// math/near_points.h - whether any of some points of the plane lies within a fixed distance of a place.
//
// A grid of cells no smaller than twice the distance: every point is entered into the cells that its circle touches, so
// that a question looks into one cell, and most cells are empty. The same answers as by PointIndex, many times as fast.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "math/transform.h"

namespace ng::math {

class NearPoints {
 public:
  // Copies the points, all finite.
  NearPoints(std::span<const Point> points, double distance) : squared_(distance * distance) {
    if (points.empty()) return;
    Point low = points[0], high = points[0];
    for (const Point p : points) {
      low = {std::min(low.x, p.x), std::min(low.y, p.y)};
      high = {std::max(high.x, p.x), std::max(high.y, p.y)};
    }
    constexpr double kCells = 200;  // along the longer side, at most
    // A little more than the distance, so that rounding leaves no circle out.
    const double reach =
        distance * (1 + 1e-9) + 1e-12 * (std::fabs(low.x) + std::fabs(low.y) + std::fabs(high.x) + std::fabs(high.y));
    cell_ = std::max({2 * reach, (high.x - low.x + 2 * reach) / kCells, (high.y - low.y + 2 * reach) / kCells});
    origin_ = {low.x - reach, low.y - reach};
    columns_ = column(high.x + reach) + 1;
    rows_ = row(high.y + reach) + 1;
    begins_.assign(static_cast<std::size_t>(columns_) * static_cast<std::size_t>(rows_) + 1, 0);
    const auto each_cell = [&](Point p, const auto& act) {
      for (int j = row(p.y - reach); j <= row(p.y + reach); ++j)
        for (int i = column(p.x - reach); i <= column(p.x + reach); ++i) act(index(i, j));
    };
    for (const Point p : points) each_cell(p, [&](std::size_t cell) { ++begins_[cell + 1]; });
    for (std::size_t k = 1; k < begins_.size(); ++k) begins_[k] += begins_[k - 1];
    entered_.resize(begins_.back());
    std::vector<std::uint32_t> next(begins_.begin(), begins_.end() - 1);
    for (const Point p : points) each_cell(p, [&](std::size_t cell) { entered_[next[cell]++] = p; });
  }

  // At most `distance` away; false for a place that is no number.
  [[nodiscard]] bool any_near(Point p) const {
    const double x = (p.x - origin_.x) / cell_, y = (p.y - origin_.y) / cell_;
    if (!(x >= 0 && y >= 0 && x < columns_ && y < rows_)) return false;
    const std::size_t cell = index(static_cast<int>(x), static_cast<int>(y));
    for (std::uint32_t k = begins_[cell]; k < begins_[cell + 1]; ++k) {
      const double dx = p.x - entered_[k].x, dy = p.y - entered_[k].y;
      if (dx * dx + dy * dy <= squared_) return true;
    }
    return false;
  }

 private:
  [[nodiscard]] int column(double x) const { return static_cast<int>((x - origin_.x) / cell_); }
  [[nodiscard]] int row(double y) const { return static_cast<int>((y - origin_.y) / cell_); }
  [[nodiscard]] std::size_t index(int i, int j) const {
    return static_cast<std::size_t>(j) * static_cast<std::size_t>(columns_) + static_cast<std::size_t>(i);
  }

  double squared_ = 0, cell_ = 1;
  Point origin_{};
  int columns_ = 0, rows_ = 0;
  std::vector<std::uint32_t> begins_;  // of each cell, and the end of the last
  std::vector<Point> entered_;
};

}  // namespace ng::math
