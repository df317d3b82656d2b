#include "math/lanczos.h"

#include <Eigen/Core>
#include <Eigen/LU>
#include <cmath>
#include <numbers>

namespace ng::math {
namespace {

using Polynomials = LanczosPolynomials;

double lanczos3(double x) {
  if (std::fabs(x) >= 3) return 0;
  if (std::fabs(x) < 1e-12) return 1;
  const double p = std::numbers::pi * x;
  return 3 * std::sin(p) * std::sin(p / 3) / (p * p);
}

// Weight of a tap at the place g = x - floor(x) - 1/2.
double weight(int tap, double g) {
  double sum = 0;
  for (int k = 0; k < Polynomials::kTaps; ++k) sum += lanczos3(k - 2.5 - g);
  return lanczos3(tap - 2.5 - g) / sum;
}

}  // namespace

// Interpolation at Chebyshev's extremal points of 0 <= g^2 <= 1/4: both ends are among them, so that a pixel that falls
// on a pixel keeps its value.
LanczosPolynomials::LanczosPolynomials() : even{}, odd{} {
  using Matrix = Eigen::Matrix<double, kTerms, kTerms>;
  using Vector = Eigen::Matrix<double, kTerms, 1>;
  Vector s;
  Matrix powers;
  for (int i = 0; i < kTerms; ++i) {
    s[i] = 0.125 * (1 - std::cos(std::numbers::pi * i / (kTerms - 1)));
    for (int j = 0; j < kTerms; ++j) powers(i, j) = std::pow(s[i], j);
  }
  const Eigen::PartialPivLU<Matrix> lu(powers);
  for (int k = 0; k < kPairs; ++k) {
    Vector sum, difference;
    for (int i = 0; i < kTerms; ++i) {
      const double g = std::sqrt(s[i]);
      sum[i] = (weight(k, g) + weight(k, -g)) / 2;
      const double h = g > 0 ? g : 1e-5;  // at the middle the slope, from two points next to it
      difference[i] = (weight(k, h) - weight(k, -h)) / (2 * h);
    }
    const Vector e = lu.solve(sum), o = lu.solve(difference);
    for (int j = 0; j < kTerms; ++j) {
      even[static_cast<std::size_t>(k)][static_cast<std::size_t>(j)] = static_cast<float>(e[j]);
      odd[static_cast<std::size_t>(k)][static_cast<std::size_t>(j)] = static_cast<float>(o[j]);
    }
  }
}

}  // namespace ng::math
