#include "measure/profile_model.h"

#include <gtest/gtest.h>

#include "math/random.h"
#include "measure/profile_model_slow.h"

namespace ng::measure {
namespace {

// 1e-5: residuals of pixels 1e4 times as bright as their noise are right to a thousandth of it in single precision, and
// the fit allows for as much (kRounding).
TEST(ProfileModel, PassMatchesItsSlowTwin) {
  const ProfileVector before{0.1, -0.2, 9000, 95, 0.30, 0.36, 0.03, 1 / 3.2};
  const ProfileVector now{0.13, -0.17, 10000, 100, 0.33, 0.40, 0.05, 1 / 3.5};
  const double sky_variance = 120, electrons_per_unit = 1.7;
  for (const int n : {4, 7, 8}) {
    for (const int radius : {1, 3, 6}) {  // 9, 49 and 169 pixels: none a whole number of vectors
      FitPixels pixels((2 * radius + 1) * (2 * radius + 1));
      math::Random random(3, static_cast<std::uint64_t>(radius));
      for (int y = -radius; y <= radius; ++y)
        pixels.add_row(static_cast<float>(y), 2 * radius + 1, [&](int i) {
          const double value = slow::model(now, i - radius, y) + 20 * random.normal();
          return FitPixels::Candidate{static_cast<float>(i - radius), static_cast<float>(value), true};
        });
      static_cast<void>(profile_pass(pixels, before, n, sky_variance, electrons_per_unit));
      pixels.keep_weights();
      const ProfilePass pass = profile_pass(pixels, now, n, sky_variance, electrons_per_unit);

      ProfilePass expected;
      for (int i = 0; i < pixels.count(); ++i) {
        const double x = static_cast<double>(pixels.dx()[i]), y = static_cast<double>(pixels.dy()[i]);
        const auto weight = [&](const ProfileVector& p) {
          return 1 / (sky_variance + (slow::model(p, x, y) - p[3]) / electrons_per_unit);
        };
        const double residual = static_cast<double>(pixels.value()[i]) - slow::model(now, x, y);
        expected.chi2 += weight(now) * residual * residual;
        expected.chi2_before += weight(before) * residual * residual;
        for (std::size_t j = 0; j < static_cast<std::size_t>(n); ++j) {
          expected.b[j] += weight(now) * slow::slope(now, j, x, y) * residual;
          for (std::size_t k = 0; k <= j; ++k)
            expected.a[j][k] += weight(now) * slow::slope(now, j, x, y) * slow::slope(now, k, x, y);
        }
      }
      EXPECT_NEAR(pass.chi2, expected.chi2, 1e-5 * expected.chi2);
      EXPECT_NEAR(pass.chi2_before, expected.chi2_before, 1e-5 * expected.chi2_before);
      for (std::size_t j = 0; j < static_cast<std::size_t>(n); ++j) {
        EXPECT_NEAR(pass.b[j], expected.b[j], 1e-5 * std::sqrt(expected.a[j][j] * expected.chi2)) << n << " " << j;
        for (std::size_t k = 0; k <= j; ++k)
          EXPECT_NEAR(pass.a[j][k], expected.a[j][k], 1e-5 * std::sqrt(expected.a[j][j] * expected.a[k][k]))
              << n << " " << j << " " << k;
      }
    }
  }
}

}  // namespace
}  // namespace ng::measure
