#include "diagnose/axis_fit.h"

#include <Eigen/LU>
#include <Eigen/QR>

namespace ng::diagnose {

math::Mat3 about(const math::Vec3& axis, double angle) {
  return math::rotation({angle * axis[0], angle * axis[1], angle * axis[2]});
}

std::pair<math::Vec3, math::Vec3> across(const math::Vec3& a) {
  const math::Vec3 level = math::unit(math::cross({0, 0, 1}, a));
  return {level, math::cross(a, level)};
}

void set_direction(PolarAxis& axis, const math::Vec3& direction) {
  axis.direction = direction;
  const AzimuthAltitude at = azimuth_altitude(direction);
  axis.azimuth_rad = at.azimuth_rad;
  axis.altitude_rad = at.altitude_rad;
}

LeastSquares least_squares(Eigen::VectorXd x, const std::function<Eigen::VectorXd(const Eigen::VectorXd&)>& residuals) {
  LeastSquares out;
  Eigen::MatrixXd slopes;
  for (int round = 0; round < 12; ++round) {
    const Eigen::VectorXd r = residuals(x);
    slopes.resize(r.size(), x.size());
    constexpr double kStep = 1e-6;
    for (Eigen::Index k = 0; k < x.size(); ++k) {
      Eigen::VectorXd up = x, down = x;
      up[k] += kStep;
      down[k] -= kStep;
      slopes.col(k) = (residuals(up) - residuals(down)) / (2 * kStep);
    }
    const Eigen::VectorXd step = slopes.colPivHouseholderQr().solve(-r);
    x += step;
    if (step.norm() < 1e-12) break;
  }
  out.x = x;
  out.sum = residuals(x).squaredNorm();
  out.covariance = (slopes.transpose() * slopes).completeOrthogonalDecomposition().pseudoInverse();
  return out;
}

}  // namespace ng::diagnose
