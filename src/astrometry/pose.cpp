#include "astrometry/pose.h"

#include <Eigen/LU>
#include <array>
#include <cmath>

namespace ng::astrometry {
namespace {

math::Vec3 ray(const Pose& pose, math::Point p) {
  return math::unit({(p.x - pose.middle.x) * pose.scale_rad, pose.parity * (p.y - pose.middle.y) * pose.scale_rad, 1});
}

// Axes of a pair of directions: their middle, their normal, and what completes them.
math::Mat3 triad(const math::Vec3& a, const math::Vec3& b) {
  const math::Vec3 middle = math::unit({a[0] + b[0], a[1] + b[1], a[2] + b[2]});
  const math::Vec3 normal = math::unit(math::cross(a, b));
  return {middle, normal, math::cross(middle, normal)};
}

}  // namespace

math::Vec3 Pose::direction(math::Point pixel) const {
  return math::times(math::transposed(axes), ray(*this, pixel));
}

std::optional<math::Point> Pose::pixel(const math::Vec3& direction) const {
  const math::Vec3 c = math::times(axes, direction);
  if (c[2] < 0.087) return std::nullopt;
  return math::Point{middle.x + c[0] / c[2] / scale_rad, middle.y + parity * c[1] / c[2] / scale_rad};
}

std::optional<PoseTracker> PoseTracker::from_pair(math::Point middle, int parity, math::Point p, const math::Vec3& at_p,
                                                  math::Point q, const math::Vec3& at_q, double sigma_px) {
  const double length = std::hypot(p.x - q.x, p.y - q.y);
  const double apart = math::separation(at_p, at_q);
  if (!(length > 1) || !(apart > 1e-7) || apart > 1.5) return std::nullopt;
  PoseTracker t;
  Pose& pose = t.pose_;
  pose.middle = middle;
  pose.parity = parity;
  pose.scale_rad = apart / length;
  for (int i = 0; i < 8; ++i) {
    const double seen = math::separation(ray(pose, p), ray(pose, q));
    pose.scale_rad *= apart / seen;
    if (std::fabs(apart / seen - 1) < 1e-10) break;
  }
  if (!(pose.scale_rad * length < 3)) return std::nullopt;
  const math::Mat3 camera = triad(ray(pose, p), ray(pose, q)), sky = triad(at_p, at_q);
  pose.axes = math::times(math::transposed(camera), sky);

  t.covariance_.setZero();
  const auto first = t.predict(at_p), second = t.predict(at_q);
  if (!first || !second) return std::nullopt;
  Eigen::Matrix4d slopes;
  slopes << first->slope, second->slope;
  const Eigen::FullPivLU<Eigen::Matrix4d> lu(slopes);
  if (!lu.isInvertible()) return std::nullopt;
  const Eigen::Matrix4d inverse = lu.inverse();
  t.covariance_ = sigma_px * sigma_px * inverse * inverse.transpose();
  return t;
}

std::optional<PoseTracker::Prediction> PoseTracker::predict(const math::Vec3& direction) const {
  const math::Vec3 c = math::times(pose_.axes, direction);
  if (c[2] < 0.087) return std::nullopt;
  const double u = c[0] / c[2], v = c[1] / c[2], k = 1 / pose_.scale_rad, s = pose_.parity;
  Prediction p;
  p.at = {pose_.middle.x + k * u, pose_.middle.y + s * k * v};
  // Turning the camera's picture of the sky by w changes (u, v) by these; a larger scale makes the picture smaller.
  p.slope << -k * u * v, k * (1 + u * u), -k * v, -k * u,  //
      -s * k * (1 + v * v), s * k * u * v, s * k * u, -s * k * v;
  p.covariance = p.slope * covariance_ * p.slope.transpose();
  return p;
}

void PoseTracker::learn(const Prediction& prediction, math::Point measured, double noise_px2) {
  const Eigen::Matrix2d innovation = prediction.covariance + noise_px2 * Eigen::Matrix2d::Identity();
  const Eigen::Matrix<double, 4, 2> gain = covariance_ * prediction.slope.transpose() * innovation.inverse();
  const Eigen::Vector4d step = gain * Eigen::Vector2d(measured.x - prediction.at.x, measured.y - prediction.at.y);
  covariance_ -= gain * prediction.slope * covariance_;
  covariance_ = 0.5 * (covariance_ + covariance_.transpose()).eval();
  pose_.axes = math::times(math::rotation({step[0], step[1], step[2]}), pose_.axes);
  pose_.scale_rad *= std::exp(step[3]);
}

}  // namespace ng::astrometry
