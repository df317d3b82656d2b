// astrometry/plane_fit.h - polynomials through scattered points of two planes, robustly weighted.
#pragma once

#include <Eigen/Core>
#include <span>
#include <vector>

#include "frame/wcs.h"

namespace ng::astrometry {

struct PlanePair {
  double u = 0, v = 0;  // from
  double x = 0, y = 0;  // to
  double weight = 1;    // 1 / variance of one axis of (x, y)
};

struct PlaneFit {
  PlanePolynomial x, y;
  Eigen::MatrixXd covariance;  // of the coefficients of either, for the weights as given
  std::vector<double> robust;  // factor on each pair's weight, 0 for an outlier
};

// u, v are divided by `span` inside, for numbers near 1. Pairs must be more than the terms of the degree.
[[nodiscard]] PlaneFit fit_plane(std::span<const PlanePair> pairs, int degree, double span);

}  // namespace ng::astrometry
