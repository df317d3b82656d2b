#include "astrometry/zero_point.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"

namespace ng::astrometry {
namespace {

PhotometryStar star(double zero_point, double term, double magnitude, double colour, double scatter,
                    math::Random& random) {
  const double mag = magnitude - zero_point - term * (colour - 0.6) + scatter * random.normal();
  const double rate = std::pow(10, -0.4 * mag);
  return {rate, 0.01 * rate, magnitude, colour};
}

// 40 stars of 0.03 mag, every eighth a variable or a double star 0.8 mag too bright; 200 times over.
TEST(ZeroPoint, IsFoundAmongWrongStarsWithinItsError) {
  double pulls = 0, term_pulls = 0;
  constexpr int kTrials = 200;
  for (int trial = 0; trial < kTrials; ++trial) {
    math::Random random(3, static_cast<std::uint64_t>(trial));
    std::vector<PhotometryStar> stars;
    for (int i = 0; i < 40; ++i) {
      stars.push_back(star(21.3, -0.12, 7 + 4 * random.uniform(), 1.6 * random.uniform() - 0.1, 0.03, random));
      if (i % 8 == 0) stars.back().rate *= std::pow(10, 0.4 * 0.8);
    }
    const auto z = zero_point(stars);
    ASSERT_TRUE(z.ok());
    ASSERT_TRUE(z->colour_term.has_value());
    const double truth = 21.3 - 0.12 * (*z->colour - 0.6);
    EXPECT_NEAR(z->magnitude, truth, 0.03);
    EXPECT_GE(z->outliers, 4);
    pulls += std::pow((z->magnitude - truth) / z->error, 2) / kTrials;
    term_pulls += std::pow((*z->colour_term + 0.12) / *z->colour_term_error, 2) / kTrials;
  }
  // chi^2 of 200 values scatters by 10 %; weights of Tukey cost some per cent more.
  EXPECT_NEAR(pulls, 1, 0.45);
  EXPECT_NEAR(term_pulls, 1, 0.45);
}

TEST(ZeroPoint, TakesNoColourTermFromFewOrAlikeStars) {
  math::Random random(8, 0);
  std::vector<PhotometryStar> few, alike;
  for (int i = 0; i < 8; ++i) few.push_back(star(20, 0.1, 8 + 0.2 * i, 0.2 * i, 0.01, random));
  for (int i = 0; i < 30; ++i) alike.push_back(star(20, 0.1, 8, 0.6 + 0.01 * random.normal(), 0.01, random));
  EXPECT_FALSE(zero_point(few)->colour_term.has_value());
  EXPECT_FALSE(zero_point(alike)->colour_term.has_value());
  EXPECT_NEAR(zero_point(alike)->magnitude, 20, 0.01);
  EXPECT_FALSE(zero_point(std::span(few).first(2)).ok());
}

// Bouguer's law at k = 0.21 with a third of the frames behind clouds of up to a magnitude.
TEST(ZeroPoint, ExtinctionBehindSomeClouds) {
  math::Random random(11, 0);
  std::vector<AirmassPoint> frames;
  for (int i = 0; i < 60; ++i) {
    const double airmass = 1 + 1.2 * i / 59;
    const double cloud = i % 3 == 0 ? random.uniform() : 0;
    frames.push_back({airmass, 22 - 0.21 * airmass - cloud + 0.005 * random.normal(), 0.005});
  }
  const auto e = extinction(frames);
  ASSERT_TRUE(e.ok());
  EXPECT_NEAR(e->mag_airmass, 0.21, 0.02);  // 40 clear frames of 0.005 mag: 0.002; thin clouds pull
  EXPECT_NEAR(e->above_air, 22, 0.03);
  EXPECT_GE(e->outliers, 10);
  EXPECT_FALSE(extinction(std::span(frames).first(3)).ok());
  EXPECT_FALSE(extinction(std::span(frames).first(4)).ok());  // 0.06 airmasses
}

// Sky-limited: flux = 5 x noise x sqrt(area). Photon-limited: 25 electrons.
TEST(ZeroPoint, LimitingMagnitude) {
  EXPECT_NEAR(limiting_magnitude(20, 5, 10, 16, 0, 100), 20 - 2.5 * std::log10(200.0 / 100), 1e-12);
  EXPECT_NEAR(limiting_magnitude(20, 5, 0, 16, 2, 1), 20 - 2.5 * std::log10(12.5), 1e-12);
}

}  // namespace
}  // namespace ng::astrometry
