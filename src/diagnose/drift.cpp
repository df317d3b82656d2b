#include "diagnose/drift.h"

#include <algorithm>
#include <cmath>

#include "diagnose/axis_fit.h"

namespace ng::diagnose {
namespace {

constexpr double kLeastSpreadRad = deg_to_rad(20);
constexpr double kTrial = deg_to_rad(1.0 / 60);

Result<double> north_of(const math::Vec3& axis, const SeenDrift& seen, const sky::Site& site, const sky::Air& air) {
  NG_TRY(const Drift d, drift_of(axis, seen.star_icrs, seen.begin, seen.seconds, site, air));
  return d.north_rad;
}

Result<double> middle_hour_angle(const SeenDrift& seen, const sky::Site& site) {
  NG_TRY(const sky::Moment moment, sky::Moment::at(seen.begin.plus_seconds(seen.seconds / 2), site));
  return std::remainder(moment.hour_angle_rad(moment.apparent(seen.star_icrs)), 2 * kPi);
}

math::Vec3 seen_pole_vector(const sky::Site& site, const sky::Air& air) {
  const AzimuthAltitude pole = pole_of(site, air).seen_pole;
  return ground_vector(pole.azimuth_rad, pole.altitude_rad);
}

}  // namespace

Result<Drift> drift_of(const math::Vec3& axis, sky::Direction target, Instant begin, double seconds,
                       const sky::Site& site, const sky::Air& air) {
  NG_TRY(const sky::Moment first, sky::Moment::at(begin, site));
  NG_TRY(const sky::Moment last, sky::Moment::at(begin.plus_seconds(seconds), site));
  const auto seen = [&](const sky::Moment& m, double ra, double dec) {
    const sky::Horizontal h = m.horizontal(m.apparent({ra, dec}), air);
    return ground_vector(h.azimuth_rad, h.altitude_rad);
  };
  // The sky turns about the north pole from east to west: against the sense of the vector that points there.
  const double sense = axis[0] < 0 ? -1 : 1;
  const math::Mat3 back = about(axis, -sense * kSiderealRadS * seconds);
  const math::Vec3 star = seen(first, target.ra_rad, target.dec_rad);
  const math::Vec3 then = math::times(back, seen(last, target.ra_rad, target.dec_rad));
  // North and east at the star, as seen at the beginning, by a neighbour; and how that neighbour's direction has
  // turned.
  constexpr double kNear = 1e-4;
  const double tip = target.dec_rad + (target.dec_rad > kPi / 2 - 2 * kNear ? -kNear : kNear);
  const double side = tip > target.dec_rad ? 1 : -1;
  const math::Vec3 near = seen(first, target.ra_rad, tip),
                   near_then = math::times(back, seen(last, target.ra_rad, tip));
  const auto away = [&](const math::Vec3& a, const math::Vec3& b) {
    return math::Vec3{side * (b[0] - a[0]), side * (b[1] - a[1]), side * (b[2] - a[2])};
  };
  math::Vec3 north = away(star, near);
  const double along = math::dot(north, star);
  for (std::size_t k = 0; k < 3; ++k) north[k] -= along * star[k];
  north = math::unit(north);
  const math::Vec3 east = math::cross(north, star);
  const math::Vec3 north_then = away(then, near_then);
  Drift d;
  const math::Vec3 moved{then[0] - star[0], then[1] - star[1], then[2] - star[2]};
  d.north_rad = math::dot(moved, north);
  d.east_rad = math::dot(moved, east);
  d.rotation_rad = std::atan2(math::dot(north_then, east), math::dot(north_then, north));
  return d;
}

Result<OneDrift> one_drift(const SeenDrift& seen, const sky::Site& site, const sky::Air& air) {
  OneDrift one;
  NG_TRY(one.hour_angle_rad, middle_hour_angle(seen, site));
  const AzimuthAltitude pole = pole_of(site, air).seen_pole;
  const auto axis = [&](double azimuth, double altitude) {
    return ground_vector(pole.azimuth_rad + azimuth, pole.altitude_rad + altitude);
  };
  NG_TRY(const double at_pole, north_of(axis(0, 0), seen, site, air));
  NG_TRY(const double by_azimuth, north_of(axis(kTrial, 0), seen, site, air));
  NG_TRY(const double by_altitude, north_of(axis(0, kTrial), seen, site, air));
  const double lag = seen.north_rad - at_pole, full = kTrial * kSiderealRadS * seen.seconds;
  one.largest_rad = std::fabs(lag) / (kSiderealRadS * seen.seconds);
  if (std::fabs(by_azimuth - at_pole) > 0.05 * full * std::cos(pole.altitude_rad))
    one.azimuth_rad = lag / (by_azimuth - at_pole) * kTrial;
  if (std::fabs(by_altitude - at_pole) > 0.05 * full) one.altitude_rad = lag / (by_altitude - at_pole) * kTrial;
  return one;
}

Result<PolarAxis> polar_axis_of_drifts(std::span<const SeenDrift> drifts, const sky::Site& site, const sky::Air& air) {
  PolarAxis axis;
  std::vector<double> hours;
  for (const SeenDrift& seen : drifts) {
    NG_TRY(const double hour, middle_hour_angle(seen, site));
    for (const double other : hours)  // modulo half a turn: opposite hour angles show the same part of the error
      axis.largest_turn_rad = std::max(axis.largest_turn_rad, std::fabs(std::remainder(hour - other, kPi)));
    hours.push_back(hour);
  }
  if (axis.largest_turn_rad < kLeastSpreadRad)
    return Error(
        Code::kTooFew,
        "the axis needs drifts from two places, one near the meridian and one some six hours east or west of it");
  const math::Vec3 start = seen_pole_vector(site, air);
  const auto [level, upright] = across(start);
  const auto direction_of = [start, level = level, upright = upright](const Eigen::VectorXd& p) {
    return math::unit({start[0] + p[0] * level[0] + p[1] * upright[0], start[1] + p[0] * level[1] + p[1] * upright[1],
                       start[2] + p[0] * level[2] + p[1] * upright[2]});
  };
  const auto n = static_cast<Eigen::Index>(drifts.size());
  const auto residuals = [&](const Eigen::VectorXd& p) {
    Eigen::VectorXd r(n);
    const math::Vec3 direction = direction_of(p);
    for (Eigen::Index i = 0; i < n; ++i) {
      const SeenDrift& seen = drifts[static_cast<std::size_t>(i)];
      const auto north = north_of(direction, seen, site, air);  // its times were good above
      r[i] = ((north.ok() ? *north : 0) - seen.north_rad) / std::max(seen.north_error_rad, 1e-9);
    }
    return r;
  };
  const LeastSquares fit = least_squares(Eigen::VectorXd::Zero(2), residuals);
  set_direction(axis, direction_of(fit.x));
  axis.misfit = n > 2 ? std::sqrt(fit.sum / static_cast<double>(n - 2)) : 0;
  const double scatter = std::max(1.0, axis.misfit);
  axis.azimuth_error_rad = scatter * std::sqrt(fit.covariance(0, 0)) / std::max(1e-6, std::cos(axis.altitude_rad));
  axis.altitude_error_rad = scatter * std::sqrt(fit.covariance(1, 1));
  return axis;
}

}  // namespace ng::diagnose
