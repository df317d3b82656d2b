#include "frame/wcs.h"

#include <cmath>

#include "base/angle.h"
#include "math/vec3.h"

namespace ng {
namespace {

struct Axes {
  math::Vec3 east, north, outward;
};
Axes axes_at(double ra, double dec) {
  const double ca = std::cos(ra), sa = std::sin(ra), cd = std::cos(dec), sd = std::sin(dec);
  return {{-sa, ca, 0}, {-sd * ca, -sd * sa, cd}, {cd * ca, cd * sa, sd}};
}

}  // namespace

double PlanePolynomial::at(double u, double v) const {
  if (coefficients.empty()) return 0;
  double sum = 0, up = 1;
  for (int p = 0; p <= order; ++p, up *= u) {
    double vq = 1;
    for (int q = 0; p + q <= order; ++q, vq *= v) sum += coefficients[index(p, q)] * up * vq;
  }
  return sum;
}

SkyPlace Wcs::sky_of(math::Point pixel) const {
  const double u = pixel.x - reference_x, v = pixel.y - reference_y;
  const double du = u + a.at(u, v), dv = v + b.at(u, v);
  const double xi = cd_rad[0] * du + cd_rad[1] * dv, eta = cd_rad[2] * du + cd_rad[3] * dv;
  const Axes axes = axes_at(ra_rad, dec_rad);
  math::Vec3 d{};
  for (std::size_t k = 0; k < 3; ++k) d[k] = axes.outward[k] + xi * axes.east[k] + eta * axes.north[k];
  const math::Angles at = math::to_angles(d);
  return {at.longitude_rad, at.latitude_rad};
}

std::optional<math::Point> Wcs::pixel_of(SkyPlace place) const {
  const Axes axes = axes_at(ra_rad, dec_rad);
  const math::Vec3 d = math::from_angles(place.ra_rad, place.dec_rad);
  const double along = math::dot(d, axes.outward);
  if (!(along > 1e-9)) return std::nullopt;
  const double xi = math::dot(d, axes.east) / along, eta = math::dot(d, axes.north) / along;
  const double det = cd_rad[0] * cd_rad[3] - cd_rad[1] * cd_rad[2];
  const double du = (cd_rad[3] * xi - cd_rad[1] * eta) / det, dv = (cd_rad[0] * eta - cd_rad[2] * xi) / det;
  if (!distorted()) return math::Point{reference_x + du, reference_y + dv};
  double u = du + ap.at(du, dv), v = dv + bp.at(du, dv);
  for (int i = 0; i < 20; ++i) {
    const double eu = u + a.at(u, v) - du, ev = v + b.at(u, v) - dv;
    if (std::hypot(eu, ev) < 1e-9) return math::Point{reference_x + u, reference_y + v};
    // The map is close to the identity: its derivative by differences over one pixel is good enough for Newton.
    const double uu = 1 + a.at(u + 0.5, v) - a.at(u - 0.5, v), uv = a.at(u, v + 0.5) - a.at(u, v - 0.5);
    const double vu = b.at(u + 0.5, v) - b.at(u - 0.5, v), vv = 1 + b.at(u, v + 0.5) - b.at(u, v - 0.5);
    const double k = uu * vv - uv * vu;
    if (!(std::fabs(k) > 0.05)) return std::nullopt;
    u -= (vv * eu - uv * ev) / k;
    v -= (uu * ev - vu * eu) / k;
  }
  return std::nullopt;
}

double Wcs::scale_rad() const {
  return std::sqrt(std::fabs(cd_rad[0] * cd_rad[3] - cd_rad[1] * cd_rad[2]));
}

double Wcs::top_angle_rad() const {
  // The mean direction of the two axes, so that a small skew does not count: y's own direction and that of x turned
  // by a right angle, on the side that the parity says.
  const double turn = mirrored() ? -1 : 1;
  const double east = -(cd_rad[1] - turn * cd_rad[2]), north = -(cd_rad[3] + turn * cd_rad[0]);
  const double angle = std::atan2(east, north);
  return angle < 0 ? angle + 2 * kPi : angle;
}

bool Wcs::mirrored() const {
  return cd_rad[0] * cd_rad[3] - cd_rad[1] * cd_rad[2] < 0;
}

}  // namespace ng
