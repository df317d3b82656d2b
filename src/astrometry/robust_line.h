// astrometry/robust_line.h - a straight line through measured points, some of them wrong.
//
// Weights 1 / (error^2 + extra^2) times Tukey's biweight of the residual; `extra` is what the points scatter beyond
// their stated errors, found along the way.
#pragma once

#include <span>
#include <vector>

namespace ng::astrometry {

struct LinePoint {
  double x = 0, y = 0;
  double error = 0;  // of y, one standard deviation
};

struct RobustLine {
  double x0 = 0;     // weighted mean of x: there level and slope are independent
  double level = 0;  // y at x0
  double slope = 0;  // 0 where none was asked for
  double level_error = 0, slope_error = 0;
  double scatter = 0;  // robust standard deviation of the residuals
  std::vector<bool> outlier;
};

// At least one point; a slope needs three with two different x.
[[nodiscard]] RobustLine fit_line(std::span<const LinePoint> points, bool with_slope);

}  // namespace ng::astrometry
