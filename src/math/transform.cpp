#include "math/transform.h"

#include <Eigen/Core>
#include <Eigen/LU>

namespace ng::math {
namespace {

Eigen::Matrix3d matrix(const std::array<double, 8>& m) {
  Eigen::Matrix3d a;
  a << m[0], m[1], m[2], m[3], m[4], m[5], m[6], m[7], 1;
  return a;
}

Homography normalised(const Eigen::Matrix3d& a) {
  const double k = 1 / a(2, 2);
  return Homography(
      {a(0, 0) * k, a(0, 1) * k, a(0, 2) * k, a(1, 0) * k, a(1, 1) * k, a(1, 2) * k, a(2, 0) * k, a(2, 1) * k});
}

}  // namespace

Affine Homography::linear_at(Point p) const {
  const double w = 1 / (m_[6] * p.x + m_[7] * p.y + 1);
  const Point q = apply(p);
  Affine t;
  t.a = (m_[0] - q.x * m_[6]) * w;
  t.b = (m_[1] - q.x * m_[7]) * w;
  t.d = (m_[3] - q.y * m_[6]) * w;
  t.e = (m_[4] - q.y * m_[7]) * w;
  t.c = q.x - t.a * p.x - t.b * p.y;
  t.f = q.y - t.d * p.x - t.e * p.y;
  return t;
}

Homography Homography::inverse() const {
  return normalised(matrix(m_).inverse());
}

Homography Homography::after(const Homography& other) const {
  return normalised(matrix(m_) * matrix(other.m_));
}

}  // namespace ng::math
