// simulate/spline_grid.h - a smooth surface over the plane: a uniform cubic B-spline on a square grid of coefficients.
//
// Value at (u, v) = sum c(i, j) B3(u - i) B3(v - j), B3 the centred cubic B-spline (de Boor 1978); twice continuously
// differentiable. The surface *is* the spline: it does not pass through the coefficients but smooths them by a kernel
// of 0.58 nodes rms per axis. Outside the grid the coefficient of the nearest edge node counts.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>

#include "base/image.h"

namespace ng::simulate {

class SplineGrid {
 public:
  SplineGrid() = default;
  // Coefficient (i, j) stands at x = x0 + i step, y = y0 + j step.
  SplineGrid(Image<float> coefficients, double x0, double y0, double step)
      : c_(std::move(coefficients)), x0_(x0), y0_(y0), inverse_step_(1 / step) {}

  [[nodiscard]] float at(double x, double y) const {
    const double u = (x - x0_) * inverse_step_, v = (y - y0_) * inverse_step_;
    const int i = static_cast<int>(std::floor(u)), j = static_cast<int>(std::floor(v));
    const auto wx = weights(static_cast<float>(u - i)), wy = weights(static_cast<float>(v - j));
    const View<const float> c = c_.plane();
    float sum = 0;
    if (i >= 1 && i + 2 < c.width && j >= 1 && j + 2 < c.height) {
      for (int k = 0; k < 4; ++k) {
        const float* row = c.row(j - 1 + k) + i - 1;
        sum += wy[k] * (wx[0] * row[0] + wx[1] * row[1] + wx[2] * row[2] + wx[3] * row[3]);
      }
      return sum;
    }
    for (int k = 0; k < 4; ++k) {
      const float* row = c.row(std::clamp(j - 1 + k, 0, c.height - 1));
      for (int l = 0; l < 4; ++l) sum += wy[k] * wx[l] * row[std::clamp(i - 1 + l, 0, c.width - 1)];
    }
    return sum;
  }
  [[nodiscard]] bool empty() const { return c_.empty(); }

 private:
  [[nodiscard]] static std::array<float, 4> weights(float t) {
    const float s = 1 - t;
    return {s * s * s / 6, (4 + t * t * (3 * t - 6)) / 6, (4 + s * s * (3 * s - 6)) / 6, t * t * t / 6};
  }

  Image<float> c_;
  double x0_ = 0, y0_ = 0, inverse_step_ = 1;
};

}  // namespace ng::simulate
