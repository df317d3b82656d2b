#include "diagnose/pole.h"

#include <algorithm>
#include <cmath>

#include "diagnose/axis_fit.h"

namespace ng::diagnose {
namespace {

constexpr double kLeastTurnRad = deg_to_rad(5);
constexpr double kMostBoltsRad = deg_to_rad(20);

// The rotation vector of a rotation matrix, angle in [0, pi].
math::Vec3 rotation_vector(const math::Mat3& r) {
  const math::Vec3 twice_sin{r[2][1] - r[1][2], r[0][2] - r[2][0], r[1][0] - r[0][1]};
  const double s = math::norm(twice_sin) / 2, c = (r[0][0] + r[1][1] + r[2][2] - 1) / 2;
  const double angle = std::atan2(s, c);
  if (s > 1e-6) {
    const double k = angle / (2 * s);
    return {k * twice_sin[0], k * twice_sin[1], k * twice_sin[2]};
  }
  if (c > 0) return {twice_sin[0] / 2, twice_sin[1] / 2, twice_sin[2] / 2};
  // Half a turn: the axis is the column of R + 1 that is longest.
  math::Vec3 best{};
  for (std::size_t j = 0; j < 3; ++j) {
    math::Vec3 column{r[0][j], r[1][j], r[2][j]};
    column[j] += 1;
    if (math::norm(column) > math::norm(best)) best = column;
  }
  best = math::unit(best);
  return {kPi * best[0], kPi * best[1], kPi * best[2]};
}

// Small turn that carries the model into the measured attitude, in camera axes, over its error.
void weigh(const math::Mat3& model, const Attitude& measured, Eigen::VectorXd& out, Eigen::Index at) {
  const math::Vec3 w = rotation_vector(math::times(math::transposed(model), measured.to_ground));
  const double centre = std::max(measured.errors.centre_rad, 1e-9), roll = std::max(measured.errors.roll_rad, 1e-9);
  out[at] = w[0] / centre;
  out[at + 1] = w[1] / centre;
  out[at + 2] = w[2] / roll;
}

}  // namespace

Result<PolarAxis> polar_axis(std::span<const Attitude> attitudes, double latitude_rad) {
  if (attitudes.size() < 2)
    return Error(Code::kTooFew, "the polar axis needs two frames at least, between which only it was turned");
  PolarAxis axis;
  math::Vec3 longest{};
  for (std::size_t i = 0; i < attitudes.size(); ++i)
    for (std::size_t j = i + 1; j < attitudes.size(); ++j) {
      const math::Vec3 w =
          rotation_vector(math::times(attitudes[j].to_ground, math::transposed(attitudes[i].to_ground)));
      if (math::norm(w) > math::norm(longest)) longest = w;
    }
  axis.largest_turn_rad = math::norm(longest);
  if (axis.largest_turn_rad < kLeastTurnRad)
    return Error(Code::kTooFew, "the axis was turned by less than 5 degrees between the frames: turn it by 20 or more");
  math::Vec3 start = math::unit(longest);
  // Towards the pole above the horizon; on the equator, towards the north.
  const math::Vec3 pole = latitude_rad >= 0 ? math::Vec3{-1, 0, 0.1} : math::Vec3{1, 0, 0.1};
  if (math::dot(start, pole) < 0) start = {-start[0], -start[1], -start[2]};

  const auto [e1, e2] = across(start);
  const auto direction_of = [&, e1 = e1, e2 = e2](double a, double b) {
    return math::unit(
        {start[0] + a * e1[0] + b * e2[0], start[1] + a * e1[1] + b * e2[1], start[2] + a * e1[2] + b * e2[2]});
  };
  // Unknowns: two of the axis, three of the first attitude, one angle for each other frame.
  const auto n = static_cast<Eigen::Index>(attitudes.size());
  Eigen::VectorXd x = Eigen::VectorXd::Zero(2 + 3 + n - 1);
  for (Eigen::Index i = 1; i < n; ++i) {
    const math::Vec3 w = rotation_vector(
        math::times(attitudes[static_cast<std::size_t>(i)].to_ground, math::transposed(attitudes[0].to_ground)));
    x[4 + i] = math::dot(w, start);
  }
  const auto residuals = [&](const Eigen::VectorXd& p) {
    Eigen::VectorXd r(3 * n);
    const math::Vec3 a = direction_of(p[0], p[1]);
    const math::Mat3 first = math::times(attitudes[0].to_ground, math::rotation({p[2], p[3], p[4]}));
    for (Eigen::Index i = 0; i < n; ++i) {
      const math::Mat3 model = i == 0 ? first : math::times(about(a, p[4 + i]), first);
      weigh(model, attitudes[static_cast<std::size_t>(i)], r, 3 * i);
    }
    return r;
  };
  const LeastSquares fit = least_squares(x, residuals);
  set_direction(axis, direction_of(fit.x[0], fit.x[1]));
  const Eigen::Index freedom = 3 * n - x.size();
  axis.misfit = freedom > 0 ? std::sqrt(fit.sum / static_cast<double>(freedom)) : 0;
  const double scatter = std::max(1.0, axis.misfit);
  // e1 is level, e2 upright.
  axis.azimuth_error_rad = scatter * std::sqrt(fit.covariance(0, 0)) / std::max(1e-6, std::cos(axis.altitude_rad));
  axis.altitude_error_rad = scatter * std::sqrt(fit.covariance(1, 1));
  return axis;
}

Result<PolarAxis> polar_axis_after_bolts(const PolarAxis& before, const Attitude& last, const Attitude& now) {
  const auto [level, upright] = across(before.direction);
  const auto bolts = [level = level](double azimuth, double altitude) {
    return math::times(about({0, 0, 1}, azimuth), about(level, altitude));
  };
  Eigen::VectorXd x = Eigen::VectorXd::Zero(3);
  const math::Vec3 w = rotation_vector(math::times(now.to_ground, math::transposed(last.to_ground)));
  x[2] = math::dot(w, before.direction);
  // Both frames have errors: those of the later one are enlarged by those of the earlier.
  Attitude weighed = now;
  weighed.errors.centre_rad = std::hypot(now.errors.centre_rad, last.errors.centre_rad);
  weighed.errors.roll_rad = std::hypot(now.errors.roll_rad, last.errors.roll_rad);
  const auto residuals = [&](const Eigen::VectorXd& p) {
    Eigen::VectorXd r(3);
    weigh(math::times(bolts(p[0], p[1]), math::times(about(before.direction, p[2]), last.to_ground)), weighed, r, 0);
    return r;
  };
  const LeastSquares fit = least_squares(x, residuals);
  if (!(fit.sum < 1e-6) || std::fabs(fit.x[0]) > kMostBoltsRad || std::fabs(fit.x[1]) > kMostBoltsRad)
    return Error(Code::kNoMatch,
                 "this frame cannot come from turning the bolts alone: take two new frames with the axis turned");
  PolarAxis after = before;
  set_direction(after, math::times(bolts(fit.x[0], fit.x[1]), before.direction));
  after.azimuth_error_rad = std::hypot(before.azimuth_error_rad, std::sqrt(fit.covariance(0, 0)));
  after.altitude_error_rad = std::hypot(before.altitude_error_rad, std::sqrt(fit.covariance(1, 1)));
  after.misfit = 0;
  return after;
}

Pole pole_of(const sky::Site& site, const sky::Air& air) {
  Pole pole;
  const double azimuth = site.latitude_rad >= 0 ? 0 : kPi, altitude = std::fabs(site.latitude_rad);
  pole.true_pole = {azimuth, altitude};
  // The altitude as seen: the same formula that carries the frames.
  double refraction = 0;
  if (air.pressure_hpa > 0) {
    double a = 0, b = 0;
    eraRefco(air.pressure_hpa, air.temperature_c, air.relative_humidity, air.wavelength_um, &a, &b);
    // From the seen zenith distance to the true one goes A tan + B tan^3: two rounds lead back.
    for (int i = 0; i < 4; ++i) {
      const double t = 1 / std::tan(std::max(altitude + refraction, deg_to_rad(3)));
      refraction = a * t + b * t * t * t;
    }
  }
  pole.seen_pole = {azimuth, altitude + refraction};
  return pole;
}

Correction correction(const PolarAxis& axis, const AzimuthAltitude& goal) {
  Correction c;
  c.azimuth_rad = std::remainder(goal.azimuth_rad - axis.azimuth_rad, 2 * kPi);
  // Azimuth grows through east in the north; in the south it falls towards the east.
  if (std::cos(goal.azimuth_rad) < 0) c.azimuth_rad = -c.azimuth_rad;
  c.altitude_rad = goal.altitude_rad - axis.altitude_rad;
  c.distance_rad = math::separation(axis.direction, ground_vector(goal.azimuth_rad, goal.altitude_rad));
  return c;
}

Tolerance tolerance(double scale_rad_px, double half_diagonal_px, double dec_rad, double exposure_s) {
  Tolerance t;
  const double turned = kSiderealRadS * exposure_s;
  t.unguided_rad = 0.5 * scale_rad_px / turned;
  t.guided_rad = 0.5 * std::max(1e-3, std::cos(dec_rad)) / (turned * half_diagonal_px);
  return t;
}

}  // namespace ng::diagnose
