#include "diagnose/attitude.h"

#include <Eigen/Core>
#include <Eigen/LU>
#include <Eigen/SVD>
#include <array>
#include <cmath>

namespace ng::diagnose {
namespace {

// Directions in camera axes: the middle, and a ring of 0.7 degrees around it, about a frame's reach. The same for every
// frame, so that what refraction does to the shape of the field cancels between them.
constexpr double kRingRad = 0.012;

std::array<math::Vec3, 5> probes() {
  return {math::Vec3{0, 0, 1}, math::unit({kRingRad, 0, 1}), math::unit({-kRingRad, 0, 1}),
          math::unit({0, kRingRad, 1}), math::unit({0, -kRingRad, 1})};
}

// Columns: camera axes in ICRS axes. x along the rows of pixels (the mean of both pixel axes, so that a skew does not
// count), z outward.
math::Mat3 camera_in_icrs(const Wcs& wcs, math::Point middle) {
  const SkyPlace at = wcs.sky_of(middle);
  const math::Vec3 z = math::from_angles(at.ra_rad, at.dec_rad);
  const math::Vec3 east{-std::sin(at.ra_rad), std::cos(at.ra_rad), 0}, north = math::cross(z, east);
  // The top of the picture in the sky there; at a pole of the map the reference and the middle differ in their north.
  const auto above = wcs.sky_of({middle.x, middle.y - 1}), right = wcs.sky_of({middle.x + 1, middle.y});
  const auto on_plane = [&](const SkyPlace& p) {
    const math::Vec3 d = math::from_angles(p.ra_rad, p.dec_rad);
    return math::Point{math::dot(d, east), math::dot(d, north)};
  };
  const math::Point up = on_plane(above), along = on_plane(right);
  const double parity = wcs.mirrored() ? -1 : 1;
  // x and parity * y make a right-handed pair with z; y runs down the picture.
  const math::Point turned{-parity * up.y, parity * up.x};
  const math::Point x{along.x + turned.x, along.y + turned.y};
  math::Vec3 axis{};
  for (std::size_t k = 0; k < 3; ++k) axis[k] = x.x * east[k] + x.y * north[k];
  const math::Vec3 ax = math::unit(axis), ay = math::cross(z, ax);
  return math::transposed({ax, ay, z});
}

}  // namespace

math::Vec3 ground_vector(double azimuth_rad, double altitude_rad) {
  const double c = std::cos(altitude_rad);
  return {-c * std::cos(azimuth_rad), c * std::sin(azimuth_rad), std::sin(altitude_rad)};
}

AzimuthAltitude azimuth_altitude(const math::Vec3& ground) {
  const double azimuth = std::atan2(ground[1], -ground[0]);
  return {azimuth < 0 ? azimuth + 2 * kPi : azimuth, std::atan2(ground[2], std::hypot(ground[0], ground[1]))};
}

Attitude attitude_of(const Wcs& wcs, math::Point middle, const SolutionErrors& errors, const sky::Moment& moment,
                     const sky::Air& air) {
  const math::Mat3 in_icrs = camera_in_icrs(wcs, middle);
  Eigen::Matrix3d product = Eigen::Matrix3d::Zero();
  for (const math::Vec3& probe : probes()) {
    const math::Angles at = math::to_angles(math::times(in_icrs, probe));
    const sky::Horizontal h = moment.horizontal(moment.apparent({at.longitude_rad, at.latitude_rad}), air);
    const math::Vec3 ground = ground_vector(h.azimuth_rad, h.altitude_rad);
    product += Eigen::Vector3d(ground[0], ground[1], ground[2]) * Eigen::RowVector3d(probe[0], probe[1], probe[2]);
  }
  const Eigen::JacobiSVD<Eigen::Matrix3d> svd(product, Eigen::ComputeFullU | Eigen::ComputeFullV);
  Eigen::Matrix3d keep = Eigen::Matrix3d::Identity();
  keep(2, 2) = (svd.matrixU() * svd.matrixV().transpose()).determinant();
  const Eigen::Matrix3d m = svd.matrixU() * keep * svd.matrixV().transpose();
  Attitude attitude;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) attitude.to_ground[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)] = m(i, j);
  attitude.errors = errors;
  return attitude;
}

}  // namespace ng::diagnose
