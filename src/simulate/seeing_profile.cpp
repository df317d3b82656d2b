#include "simulate/seeing_profile.h"

#include "base/angle.h"

namespace ng::simulate {
namespace {

// Half width at half maximum of a Moffat profile with unit core.
double half_width(double beta) {
  return std::sqrt(std::pow(2.0, 1 / beta) - 1);
}

}  // namespace

double SeeingProfile::fwhm_px() const {
  return std::sqrt(fwhm_major_px * fwhm_minor_px);
}

double SeeingProfile::core_px() const {
  return fwhm_px() / (2 * half_width(beta));
}

double SeeingProfile::peak() const {
  return (beta - 1) / (kPi * core_px() * core_px());
}

double SeeingProfile::at(double dx, double dy) const {
  const double co = std::cos(angle_rad), si = std::sin(angle_rad);
  const double k = 2 * half_width(beta);
  const double p = (dx * co + dy * si) * k / fwhm_major_px, q = (dy * co - dx * si) * k / fwhm_minor_px;
  return peak() * std::pow(1 + p * p + q * q, -beta);
}

double SeeingProfile::radius_px(double electrons, double floor_e) const {
  const double ratio = electrons * peak() / floor_e;
  if (!(ratio > 1)) return 2 * core_px();
  const double major_core = fwhm_major_px / (2 * half_width(beta));
  return std::max(2 * core_px(), major_core * std::sqrt(std::pow(ratio, 1 / beta) - 1)) + 1;
}

StarPainter::StarPainter(const SeeingProfile& p) {
  const double co = std::cos(p.angle_rad), si = std::sin(p.angle_rad);
  const double k = 2 * half_width(p.beta);
  const double a = std::pow(k / p.fwhm_major_px, 2), b = std::pow(k / p.fwhm_minor_px, 2);
  xx_ = static_cast<float>(a * co * co + b * si * si);
  yy_ = static_cast<float>(a * si * si + b * co * co);
  xy_ = static_cast<float>(2 * (a - b) * co * si);
  norm_ = static_cast<float>(p.peak());
  beta_ = static_cast<float>(p.beta);
  half_whole_ = p.beta == 3.5;
}

float StarPainter::power(float u) const {
  return half_whole_ ? 1 / (u * u * u * std::sqrt(u)) : std::pow(u, -beta_);
}

float StarPainter::pixel_share(float dx, float dy) const {
  const float u = 1 + xx_ * dx * dx + xy_ * dx * dy + yy_ * dy * dy;
  // Abscissae and weights of Gauss & Legendre on [-1/2, 1/2] (Abramowitz & Stegun 1964, table 25.4).
  if (u < 12) {
    constexpr float kAt[4] = {-0.43056816f, -0.16999052f, 0.16999052f, 0.43056816f};
    constexpr float kWeight[4] = {0.17392742f, 0.32607258f, 0.32607258f, 0.17392742f};
    float sum = 0;
    for (int j = 0; j < 4; ++j)
      for (int i = 0; i < 4; ++i) sum += kWeight[i] * kWeight[j] * point(dx + kAt[i], dy + kAt[j]);
    return sum;
  }
  if (u < 60) {
    constexpr float kAt = 0.28867513f;
    return 0.25f * (point(dx - kAt, dy - kAt) + point(dx + kAt, dy - kAt) + point(dx - kAt, dy + kAt) +
                    point(dx + kAt, dy + kAt));
  }
  return norm_ * power(u);
}

}  // namespace ng::simulate
