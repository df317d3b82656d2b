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

namespace {

// Abscissae and weights of Gauss & Legendre on [-1/2, 1/2] (Abramowitz & Stegun 1964, table 25.4).
template <int kPoints>
struct GaussLegendre;
template <>
struct GaussLegendre<1> {
  static constexpr float kAt[] = {0}, kWeight[] = {1};
};
template <>
struct GaussLegendre<2> {
  static constexpr float kAt[] = {-0.28867513f, 0.28867513f}, kWeight[] = {0.5f, 0.5f};
};
template <>
struct GaussLegendre<3> {
  static constexpr float kAt[] = {-0.38729833f, 0, 0.38729833f}, kWeight[] = {0.27777778f, 0.44444444f, 0.27777778f};
};
template <>
struct GaussLegendre<4> {
  static constexpr float kAt[] = {-0.43056816f, -0.16999052f, 0.16999052f, 0.43056816f},
                         kWeight[] = {0.17392742f, 0.32607258f, 0.32607258f, 0.17392742f};
};

}  // namespace

template <int kPoints>
void StarPainter::integrate(float dx, float dy, int count, float* shares) const {
  using Rule = GaussLegendre<kPoints>;
  for (int i = 0; i < count; ++i) shares[i] = 0;
  for (int j = 0; j < kPoints; ++j) {
    const float y = dy + Rule::kAt[j];
    const float constant = 1 + yy_ * y * y, linear = xy_ * y;
    for (int k = 0; k < kPoints; ++k) {
      const float x0 = dx + Rule::kAt[k], weight = norm_ * Rule::kWeight[j] * Rule::kWeight[k];
      if (half_whole_) {
        for (int i = 0; i < count; ++i) {
          const float x = x0 + static_cast<float>(i);
          const float u = constant + x * (linear + xx_ * x);
          shares[i] += weight / (u * u * u * std::sqrt(u));
        }
      } else {
        for (int i = 0; i < count; ++i) {
          const float x = x0 + static_cast<float>(i);
          shares[i] += weight * std::pow(constant + x * (linear + xx_ * x), -beta_);
        }
      }
    }
  }
}

void StarPainter::row_shares(float dx, float dy, int count, float* shares) const {
  // The least 1 + (p/a)^2 + (q/b)^2 of the row decides.
  const float u = 1 + (yy_ - xy_ * xy_ / (4 * xx_)) * dy * dy;
  if (u < 3) {
    integrate<4>(dx, dy, count, shares);
  } else if (u < 9) {
    integrate<3>(dx, dy, count, shares);
  } else if (u < 60) {
    integrate<2>(dx, dy, count, shares);
  } else {
    integrate<1>(dx, dy, count, shares);
  }
}

}  // namespace ng::simulate
