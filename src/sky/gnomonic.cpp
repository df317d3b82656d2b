#include "sky/gnomonic.h"

#include <cmath>

#include "base/angle.h"

namespace ng::sky {

TangentPlane::TangentPlane(Direction centre) {
  const double ca = std::cos(centre.ra_rad), sa = std::sin(centre.ra_rad);
  const double cd = std::cos(centre.dec_rad), sd = std::sin(centre.dec_rad);
  axes_ = {{{-sa, ca, 0}, {-sd * ca, -sd * sa, cd}, {cd * ca, cd * sa, sd}}};
}

std::optional<PlanePoint> TangentPlane::project(Direction d) const {
  const double cd = std::cos(d.dec_rad);
  const std::array<double, 3> v{cd * std::cos(d.ra_rad), cd * std::sin(d.ra_rad), std::sin(d.dec_rad)};
  std::array<double, 3> p{};
  for (int i = 0; i < 3; ++i) p[i] = axes_[i][0] * v[0] + axes_[i][1] * v[1] + axes_[i][2] * v[2];
  if (!(p[2] > 1e-12)) return std::nullopt;
  return PlanePoint{p[0] / p[2], p[1] / p[2]};
}

Direction TangentPlane::direction(PlanePoint p) const {
  std::array<double, 3> v{};
  for (int k = 0; k < 3; ++k) v[k] = p.xi * axes_[0][k] + p.eta * axes_[1][k] + axes_[2][k];
  const double ra = std::atan2(v[1], v[0]);
  return {ra < 0 ? ra + 2 * kPi : ra, std::atan2(v[2], std::hypot(v[0], v[1]))};
}

std::array<double, 9> TangentPlane::from(const TangentPlane& other) const {
  std::array<double, 9> m{};
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j)
      for (int k = 0; k < 3; ++k) m[3 * i + j] += axes_[i][k] * other.axes_[j][k];
  return m;
}

}  // namespace ng::sky
