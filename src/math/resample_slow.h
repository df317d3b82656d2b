// math/resample_slow.h - Lanczos-3 by its definition, in double, without table, vectors or clamping. For tests only.
#pragma once

#include <cmath>
#include <limits>
#include <numbers>

#include "base/image.h"
#include "math/transform.h"

namespace ng::math::slow {

inline double lanczos3(double x) {
  if (std::fabs(x) >= 3) return 0;
  if (x == 0) return 1;
  const double p = std::numbers::pi * x;
  return std::sin(p) / p * std::sin(p / 3) / (p / 3);
}

inline double resample(View<const float> source, Point at) {
  const int x0 = static_cast<int>(std::floor(at.x)) - 2;
  const int y0 = static_cast<int>(std::floor(at.y)) - 2;
  if (x0 < 0 || y0 < 0 || x0 + 6 > source.width || y0 + 6 > source.height)
    return std::numeric_limits<double>::quiet_NaN();
  double sum = 0, weight = 0;
  for (int y = y0; y < y0 + 6; ++y) {
    for (int x = x0; x < x0 + 6; ++x) {
      const double w = lanczos3(x - at.x) * lanczos3(y - at.y);
      sum += w * source(x, y);
      weight += w;
    }
  }
  return sum / weight;
}

// Columns first, each where a row of the given slope through the place crosses it; then between the columns.
inline double resample_along_row(View<const float> source, Point at, double slope) {
  const int x0 = static_cast<int>(std::floor(at.x)) - 2;
  const int y0 = static_cast<int>(std::floor(at.y)) - 2;
  if (x0 < 0 || y0 < 0 || x0 + 6 > source.width || y0 + 6 > source.height)
    return std::numeric_limits<double>::quiet_NaN();
  double sum = 0, weight = 0;
  for (int x = x0; x < x0 + 6; ++x) {
    double column = 0, column_weight = 0;
    for (int y = y0; y < y0 + 6; ++y) {
      const double w = lanczos3(y - at.y - slope * (x - at.x));
      column += w * source(x, y);
      column_weight += w;
    }
    sum += lanczos3(x - at.x) * column / column_weight;
    weight += lanczos3(x - at.x);
  }
  return sum / weight;
}

}  // namespace ng::math::slow
