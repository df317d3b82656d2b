#include "math/lanczos.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/resample_slow.h"

namespace ng::math {
namespace {

// The polynomials themselves are good to 3.4e-7; rounding of the coefficients and of some ten operations adds 2e-7.
TEST(Lanczos, PolynomialsFollowTheKernel) {
  const LanczosPolynomials polynomials;
  const auto value = [](const LanczosPolynomials::Terms& terms, float s) {
    float sum = 0;
    for (std::size_t j = terms.size(); j-- > 0;) sum = sum * s + terms[j];
    return sum;
  };
  double worst = 0;
  for (int i = 0; i <= 1000; ++i) {
    const double f = i / 1000.0;
    const auto g = static_cast<float>(f - 0.5);
    double total = 0;
    for (int tap = 0; tap < 6; ++tap) total += slow::lanczos3(tap - 2 - f);
    for (std::size_t k = 0; k < 3; ++k) {
      const float even = value(polynomials.even[k], g * g);
      const float odd = g * value(polynomials.odd[k], g * g);
      const auto tap = static_cast<double>(k);
      worst = std::max(worst, std::fabs(even + odd - slow::lanczos3(tap - 2 - f) / total));
      worst = std::max(worst, std::fabs(even - odd - slow::lanczos3(3 - tap - f) / total));
    }
  }
  EXPECT_LT(worst, 5.4e-7);
}

}  // namespace
}  // namespace ng::math
