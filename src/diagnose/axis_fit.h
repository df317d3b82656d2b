// diagnose/axis_fit.h - what the fits of an axis share: directions across it, and a small least squares.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <utility>

#include "diagnose/pole.h"
#include "math/vec3.h"

namespace ng::diagnose {

constexpr double kSiderealRadS = 2 * kPi / 86164.0905;

[[nodiscard]] math::Mat3 about(const math::Vec3& axis, double angle_rad);

// Two directions across another: level, and upright to both.
[[nodiscard]] std::pair<math::Vec3, math::Vec3> across(const math::Vec3& a);

void set_direction(PolarAxis& axis, const math::Vec3& direction);

// Gauss-Newton with numerical slopes: the problems here have a dozen unknowns, are nearly linear and begin close.
// Residuals are in units of their errors, so `covariance` is that of x.
struct LeastSquares {
  Eigen::VectorXd x;
  Eigen::MatrixXd covariance;
  double sum = 0;  // of squared residuals
};
[[nodiscard]] LeastSquares least_squares(Eigen::VectorXd x,
                                         const std::function<Eigen::VectorXd(const Eigen::VectorXd&)>& residuals);

}  // namespace ng::diagnose
