// math/row_places.h - where the pixels of one output row lie in the source, through a lens too.
//
// A bent map costs a polynomial, or Newton's method, at every place; along a row it is followed exactly at every eighth
// pixel and by straight lines between: a lens of 1 % leaves 3e-4 px on a half diagonal of 1800 px.
#pragma once

#include <vector>

#include "math/plane_map.h"

namespace ng::math {

class RowPlaces {
 public:
  static constexpr int kStep = 8;

  // Pixels 0 ... width - 1 of row y.
  RowPlaces(const PlaneMap& map, int y, int width) {
    const int nodes = (width + kStep - 1) / kStep + 2;  // one more: vectors read past the end
    x_.reserve(static_cast<std::size_t>(nodes));
    y_.reserve(static_cast<std::size_t>(nodes));
    for (int k = 0; k < nodes; ++k) {
      const Point p = map.apply({static_cast<double>(k) * kStep, static_cast<double>(y)});
      x_.push_back(p.x);
      y_.push_back(p.y);
    }
  }

  [[nodiscard]] Point at(int x) const {
    const auto k = static_cast<std::size_t>(x / kStep);
    const double f = (x % kStep) / static_cast<double>(kStep);
    return {x_[k] + f * (x_[k + 1] - x_[k]), y_[k] + f * (y_[k + 1] - y_[k])};
  }
  // The nodes themselves: node k stands at pixel k kStep.
  [[nodiscard]] const std::vector<double>& x() const { return x_; }
  [[nodiscard]] const std::vector<double>& y() const { return y_; }

 private:
  std::vector<double> x_, y_;
};

}  // namespace ng::math
