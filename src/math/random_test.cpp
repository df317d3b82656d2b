#include "math/random.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ng::math {
namespace {

// Known-answer vectors of Philox 4x32-10 as published with the paper's reference code (values from memory; the third is
// the digits of pi).
TEST(Random, PhiloxKnownAnswers) {
  using B = std::array<std::uint32_t, 4>;
  EXPECT_EQ(Random::philox({0, 0, 0, 0}, {0, 0}), (B{0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}));
  EXPECT_EQ(Random::philox({~0u, ~0u, ~0u, ~0u}, {~0u, ~0u}), (B{0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}));
  EXPECT_EQ(Random::philox({0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}, {0xa4093822, 0x299f31d0}),
            (B{0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}));
}

// Mean and variance of a Poisson deviate both equal its parameter. 5 standard errors: a failure is one in a million.
TEST(Random, PoissonMoments) {
  for (const double mean : {0.03, 0.7, 5.0, 9.9, 10.1, 40.0, 800.0, 50000.0}) {
    Random random(7, 1);
    const int n = 200000;
    double sum = 0, sum2 = 0;
    for (int i = 0; i < n; ++i) {
      const double d = static_cast<double>(random.poisson(mean)) - mean;
      sum += d;
      sum2 += d * d;
    }
    EXPECT_NEAR(sum / n, 0, 5 * std::sqrt(mean / n)) << mean;
    const double variance_error = std::sqrt((2 * mean * mean + mean) / n);  // fourth moment of Poisson: 3 m^2 + m
    EXPECT_NEAR(sum2 / n, mean, 5 * variance_error) << mean;
  }
}

TEST(Random, NormalMoments) {
  Random random(1, 2);
  const int n = 400000;
  double sum = 0, sum2 = 0, sum4 = 0;
  for (int i = 0; i < n; ++i) {
    const double d = random.normal();
    sum += d;
    sum2 += d * d;
    sum4 += d * d * d * d;
  }
  EXPECT_NEAR(sum / n, 0, 5 / std::sqrt(n));
  EXPECT_NEAR(sum2 / n, 1, 5 * std::sqrt(2.0 / n));
  EXPECT_NEAR(sum4 / n, 3, 5 * std::sqrt(96.0 / n));
}

TEST(Random, StreamsAreRepeatableAndDifferent) {
  Random a(5, 1), b(5, 1), c(5, 2);
  int same = 0;
  for (int i = 0; i < 1000; ++i) {
    const auto x = a.bits();
    ASSERT_EQ(x, b.bits());
    same += x == c.bits();
  }
  EXPECT_LT(same, 3);
}

}  // namespace
}  // namespace ng::math
