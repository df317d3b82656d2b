#include "measure/aperture.h"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "math/random.h"

namespace ng::measure {
namespace {

// Merline & Howell 1995, Exp. Astron. 6, 163, worked out for these terms by hand.
TEST(Aperture, CcdEquation) {
  const CcdNoise terms{10000, 50, 400, 100, 5, 5, 1, 0.289};
  EXPECT_NEAR(terms.star_e / ccd_noise_e(terms), 75.99082999021793, 1e-9);
  CcdNoise plain = terms;
  plain.sky_pixels = 0;
  plain.gain_e_adu = 0;
  EXPECT_NEAR(plain.star_e / ccd_noise_e(plain), 77.8498944161523, 1e-9);
}

// A flat sky of 100 e with photon noise and a Gaussian star of 20000 e, many times over.
TEST(Aperture, FluxIsUnbiasedAndItsErrorHolds) {
  const ApertureSize size{6, 12, 20};
  constexpr int kSide = 61, kTrials = 400;
  constexpr double kSigma = 1.5, kFlux = 20000, kSky = 100;
  double sum = 0, pulls = 0;
  for (int trial = 0; trial < kTrials; ++trial) {
    math::Random random(5, static_cast<std::uint64_t>(trial));
    const math::Point at{30 + random.uniform() - 0.5, 30 + random.uniform() - 0.5};
    Image<float> image(kSide, kSide);
    for (int y = 0; y < kSide; ++y)
      for (int x = 0; x < kSide; ++x) {
        const auto part = [&](double d) {
          return 0.5 *
                 (std::erf((d + 0.5) / (kSigma * std::sqrt(2.0))) - std::erf((d - 0.5) / (kSigma * std::sqrt(2.0))));
        };
        const double mean = kSky + kFlux * part(x - at.x) * part(y - at.y);
        image.plane()(x, y) = static_cast<float>(mean + std::sqrt(mean) * random.normal());
      }
    const Aperture a = measure_aperture(image.plane(), at, size, 1);
    ASSERT_FALSE(a.cut);
    sum += a.flux - kFlux;
    pulls += (a.flux - kFlux) * (a.flux - kFlux) / (a.error * a.error);
  }
  // The aperture holds 1 - exp(-r^2 / 2 sigma^2) = 0.99966 of the star. The mean of 400 has an error of 10 e; the
  // clipped sky of the ring may sit 0.05 sigma high, 0.5 e a pixel over 113 pixels.
  EXPECT_NEAR(sum / kTrials, -0.00034 * kFlux, 60);
  // chi^2 of 400 values scatters by 7 %.
  EXPECT_NEAR(pulls / kTrials, 1, 0.25);
}

TEST(Aperture, SaysWhenItIsCut) {
  Image<float> image(61, 61);
  for (int y = 0; y < 61; ++y)
    for (int x = 0; x < 61; ++x) image.plane()(x, y) = static_cast<float>(x % 3);
  const ApertureSize size{6, 12, 20};
  EXPECT_TRUE(measure_aperture(image.plane(), {10, 30}, size, 1).cut);
  EXPECT_FALSE(measure_aperture(image.plane(), {30, 30}, size, 1).cut);
  image.plane()(31, 30) = std::nanf("");
  EXPECT_TRUE(measure_aperture(image.plane(), {30, 30}, size, 1).cut);
}

}  // namespace
}  // namespace ng::measure
