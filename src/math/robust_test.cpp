#include "math/robust.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <vector>

#include "math/random.h"

namespace ng::math {
namespace {

// A fixed list with two wild values; expected values from astropy.stats 5.2.1 (mad_std, sigma_clip(3),
// biweight_location).
const std::vector<double> kList = {100.2, 99.8,  101.1, 98.7, 100.5, 99.4,  100.9, 100.1, 99.9, 100.3,
                                   98.9,  101.4, 100.0, 99.6, 100.7, 250.0, 99.1,  100.4, 12.0, 100.6};
std::vector<float> floats() {
  return {kList.begin(), kList.end()};
}

TEST(Robust, AgreesWithAstropyOnAFixedList) {
  auto v = floats();
  EXPECT_NEAR(median(std::span<float>(v)), 100.15, 1e-5);
  EXPECT_NEAR(mad_sigma(std::span<float>(v), 100.15f), 0.8154312201780874, 2e-5);
  EXPECT_NEAR(biweight_location(kList), 100.11574458338904, 1e-10);
  auto w = floats();
  const auto s = clipped_stats(w, 3);
  EXPECT_EQ(s.kept, 18u);
  EXPECT_NEAR(s.mean, 100.08888888888889, 1e-5);
  EXPECT_NEAR(s.median, 100.15, 1e-5);
  EXPECT_NEAR(s.sigma, 0.7271625898647189, 1e-5);
}

std::vector<float> noise(int n, std::uint64_t stream) {
  Random random(3, stream);
  std::vector<float> v(static_cast<std::size_t>(n));
  for (float& x : v) x = static_cast<float>(random.normal());
  return v;
}

// Iterated clipping converges to sigma x 0.7257 (0.9848) and keeps 85.3 % (99.7 %) for 2 (3) sigma: fixed point of the
// truncated normal distribution, scipy. The scatter at n = 1e6 is 0.001.
TEST(Robust, ClippingConvergesToThePublishedFixedPoint) {
  for (const auto& [kappa, ratio, kept] :
       {std::tuple{2.0, 0.725740952493091, 0.8533542826674338}, std::tuple{2.5, 0.936557413275665, 0.9807880954091581},
        std::tuple{3.0, 0.9848461864497788, 0.9968686298028333}}) {
    auto v = noise(1000000, 1);
    const auto s = clipped_stats(v, kappa, 200);
    EXPECT_NEAR(s.sigma, ratio, 0.006);  // iteration stops when nothing falls, a little before the fixed point
    EXPECT_NEAR(static_cast<double>(s.kept) / 1e6, kept, 0.004);
  }
}

// Variance of the median of n normal values: order statistics, scipy quadrature. 5 standard errors of a variance.
TEST(Robust, MedianHasThePublishedVariance) {
  for (const auto& [n, variance] : {std::pair{3, 0.4486711045782079}, std::pair{7, 0.21044686153530748},
                                    std::pair{11, 0.13716243354761712}, std::pair{21, 0.07325975498651528}}) {
    const int trials = 40000;
    auto v = noise(n * trials, static_cast<std::uint64_t>(n));
    double sum2 = 0;
    for (int t = 0; t < trials; ++t) {
      const double m =
          median(std::span<float>(v).subspan(static_cast<std::size_t>(t * n), static_cast<std::size_t>(n)));
      sum2 += m * m;
    }
    EXPECT_NEAR(sum2 / trials, variance, 5 * variance * std::sqrt(2.0 / trials)) << n;
  }
}

TEST(Robust, SkyLevelIgnoresStarsAndKeepsPureNoise) {
  auto pure = noise(200000, 9);
  const auto plain = sky_level(pure);
  EXPECT_NEAR(plain.level, 0, 0.01);
  EXPECT_NEAR(plain.sigma, 1, 0.01);
  auto starry = noise(200000, 9);
  Random random(4, 4);
  for (std::size_t i = 0; i < starry.size(); i += 8) starry[i] += static_cast<float>(30 * random.uniform());
  const auto sky = sky_level(starry);  // one pixel in eight brightened: a plain median would move by 0.15 sigma
  EXPECT_NEAR(sky.level, 0, 0.06);
  EXPECT_NEAR(sky.sigma, 1, 0.05);
}

// Rounding to whole numbers adds 1/12 to the variance (Sheppard); spread over their steps, the values have their true
// distribution again at the edges of the steps. 2 %: the shape between the edges, at steps wider than sigma.
TEST(Robust, SkyLevelOfWholeNumbers) {
  for (const double sigma : {0.7, 1.3, 2.2, 5.0}) {
    auto values = noise(200000, 11);
    for (float& v : values) v = std::round(100.3f + static_cast<float>(sigma) * v);
    const auto sky = sky_level(values);
    const double expected = std::sqrt(sigma * sigma + 1.0 / 12);
    EXPECT_NEAR(sky.level, 100.3, 0.05) << sigma;
    EXPECT_NEAR(sky.sigma, expected, 0.02 * expected) << sigma;
  }
  std::vector<float> alike(1000, 7.0f);
  alike[3] = 5000;
  const auto flat = sky_level(alike);
  EXPECT_EQ(flat.level, 7);
  EXPECT_EQ(flat.sigma, 0);
}

TEST(Robust, QuantilesAndNan) {
  std::vector<float> v = {4, std::numeric_limits<float>::quiet_NaN(), 1, 3,
                          2, std::numeric_limits<float>::infinity(),  5};
  const auto finite = drop_nan(v);
  ASSERT_EQ(finite.size(), 5u);
  EXPECT_FLOAT_EQ(quantile(finite, 0.25), 2);
  EXPECT_FLOAT_EQ(quantile(finite, 0.9), 4.6f);
  EXPECT_FLOAT_EQ(quantile(finite, 1), 5);
}

TEST(Robust, MedianOfFewIsTheMedian) {
  Random random(11, 1);
  for (std::size_t n = 1; n <= 8; ++n) {
    for (int k = 0; k < 200; ++k) {
      std::vector<float> values;
      for (std::size_t i = 0; i < n; ++i) values.push_back(std::floor(static_cast<float>(10 * random.uniform()) - 5));
      const float few = median_of_few(values);
      EXPECT_EQ(few, median(std::span<float>(values))) << n;
    }
  }
}

}  // namespace
}  // namespace ng::math
