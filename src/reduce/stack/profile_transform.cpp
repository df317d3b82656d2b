#include "reduce/stack/profile_transform.h"

#include <algorithm>
#include <cmath>

#include "base/angle.h"

namespace ng::reduce {
namespace {

constexpr double kNearlyGaussian = 90;  // of beta: beyond, the Bessel function's order is out of reach and out of need
constexpr double kNothing = 1e-12;
constexpr double kEnd = 4 * kPi;  // of the response along an axis
constexpr int kSteps = 512;

double sinc(double x) {
  return std::fabs(x) < 1e-8 ? 1 : std::sin(x) / x;
}

// Transform of sinc(x) sinc(x / 3) on |x| < 3, divided by its value at 0, by Simpson's rule.
double lanczos_transform(double k) {
  constexpr int kParts = 240;
  const auto integral = [](double wave) {
    double sum = 0;
    for (int i = 0; i <= kParts; ++i) {
      const double x = 3.0 * i / kParts;
      const double weight = i == 0 || i == kParts ? 1 : i % 2 == 1 ? 4 : 2;
      sum += weight * sinc(kPi * x) * sinc(kPi * x / 3) * std::cos(wave * x);
    }
    return sum;
  };
  static const double at_zero = integral(0);
  return integral(k) / at_zero;
}

double lanczos_noise(double k) {
  double sum = 0;
  for (int m = -3; m <= 3; ++m) sum += std::pow(lanczos_transform(k + 2 * kPi * m), 2);
  return sum;
}

double moffat_end(double beta) {
  double s = 1;
  while (moffat_transform(s, beta) > kNothing) s *= 1.25;
  return s;
}

}  // namespace

double moffat_transform(double s, double beta) {
  const double nu = beta - 1;
  if (s < 1e-3) return 1;
  if (beta > kNearlyGaussian || (beta > 20 && s < 1)) {  // the first two cumulants; their sum turns back further out
    const double turn = std::min(1.0, s * s / (4 * (nu - 1) * (nu - 2)));
    return turn < 1 ? std::exp(-s * s / (4 * (nu - 1)) * (1 - turn / 2)) : 0;
  }
  return s > 600 ? 0 : 2 * std::pow(s / 2, nu) * std::cyl_bessel_k(nu, s) / std::tgamma(nu);
}

GridResponse GridResponse::lanczos() {
  return {EvenTable(kEnd, kSteps, [](double k) { return std::max(kNothing, sinc(k / 2) * lanczos_transform(k)); }),
          EvenTable(kEnd, kSteps, lanczos_noise)};
}

GridResponse GridResponse::plain() {
  return {EvenTable(kEnd, kSteps, [](double k) { return std::max(kNothing, sinc(k / 2)); }),
          EvenTable(kEnd, kSteps, [](double) { return 1.0; })};
}

ProfileTransform::ProfileTransform(double beta)
    : moffat_(moffat_end(beta), 2048, [beta](double s) { return moffat_transform(s, beta); }) {}

void ProfileTransform::row(const Profile& profile, const math::Affine& to_master, const GridResponse& grid, int side,
                           int j, const ProfileRow& out) const {
  const double step = 2 * kPi / side;
  const double ky = step * (2 * j > side ? j - side : j);
  const double det = profile.determinant();
  const auto sxx = static_cast<float>(profile.cyy / det);
  const auto syy = static_cast<float>(profile.cxx / det);
  const auto sxy = static_cast<float>(-profile.cxy / det);
  const auto x0 = static_cast<float>(to_master.d * ky), y0 = static_cast<float>(to_master.e * ky);
  const auto x_step = static_cast<float>(to_master.a * step), y_step = static_cast<float>(to_master.b * step);
  for (int i = 0; i <= side / 2; ++i) {
    const float kx_frame = x0 + static_cast<float>(i) * x_step;
    const float ky_frame = y0 + static_cast<float>(i) * y_step;
    const float s2 = sxx * kx_frame * kx_frame + 2 * sxy * kx_frame * ky_frame + syy * ky_frame * ky_frame;
    const float ax = std::fabs(kx_frame), ay = std::fabs(ky_frame);
    const float signal = moffat_.at(std::sqrt(s2)) * grid.signal.at(ax) * grid.signal.at(ay);
    out.signal[i] = std::max(signal, static_cast<float>(kNothing));
    out.noise[i] = grid.noise.at(ax) * grid.noise.at(ay);
  }
}

}  // namespace ng::reduce
