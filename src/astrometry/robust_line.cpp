#include "astrometry/robust_line.h"

#include <algorithm>
#include <cmath>

#include "math/robust.h"

namespace ng::astrometry {
namespace {

constexpr double kTukey = 4.685;  // 95 % efficient for normal errors (common practice)
constexpr int kRounds = 12;

double mean_residual_square(std::span<const double> residuals, std::span<const double> weights) {
  double sum = 0, total = 0;
  for (std::size_t i = 0; i < residuals.size(); ++i) {
    sum += weights[i] * residuals[i] * residuals[i];
    total += weights[i];
  }
  return total > 0 ? sum / total : 0;
}

}  // namespace

RobustLine fit_line(std::span<const LinePoint> points, bool with_slope) {
  const std::size_t n = points.size();
  RobustLine line;
  std::vector<double> y, robust(n, 1), residuals(n), weights(n);
  for (const LinePoint& p : points) y.push_back(p.y);
  line.level = math::median(y);
  double extra = 0;
  for (int round = 0; round < kRounds; ++round) {
    std::vector<double> sizes;
    for (std::size_t i = 0; i < n; ++i) {
      residuals[i] = points[i].y - line.level - line.slope * (points[i].x - line.x0);
      sizes.push_back(std::fabs(residuals[i]));
    }
    line.scatter = math::kMadToSigma * math::median(sizes);
    double stated = 0;
    for (const LinePoint& p : points) stated += p.error * p.error / static_cast<double>(n);
    extra = std::sqrt(std::max(0.0, line.scatter * line.scatter - stated));
    double total = 0, mean_x = 0, mean_y = 0;
    for (std::size_t i = 0; i < n; ++i) {
      const double variance = std::max(1e-12, points[i].error * points[i].error + extra * extra);
      const double t = residuals[i] / (kTukey * std::sqrt(variance));
      robust[i] = std::fabs(t) < 1 ? (1 - t * t) * (1 - t * t) : 0;
      weights[i] = robust[i] / variance;
      total += weights[i];
      mean_x += weights[i] * points[i].x;
      mean_y += weights[i] * points[i].y;
    }
    if (!(total > 0)) break;
    line.x0 = mean_x / total;
    line.level = mean_y / total;
    double xx = 0, xy = 0;
    for (std::size_t i = 0; i < n; ++i) {
      const double dx = points[i].x - line.x0;
      xx += weights[i] * dx * dx;
      xy += weights[i] * dx * (points[i].y - line.level);
    }
    line.slope = with_slope && xx > 0 ? xy / xx : 0;
    // What the points scatter, if it is more than their errors, speaks for the errors of the line too.
    const double more =
        std::sqrt(std::max(1.0, mean_residual_square(residuals, weights) * total / static_cast<double>(n)));
    line.level_error = more / std::sqrt(total);
    line.slope_error = with_slope && xx > 0 ? more / std::sqrt(xx) : 0;
  }
  for (const double r : robust) line.outlier.push_back(r == 0);
  return line;
}

}  // namespace ng::astrometry
