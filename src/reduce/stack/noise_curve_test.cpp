#include "reduce/stack/noise_curve.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numeric>

#include "base/image.h"
#include "math/random.h"

namespace ng::reduce {
namespace {

constexpr int kWidth = 60000;

struct Night {
  Image<float> values, variances;
  std::vector<std::vector<math::HitWord>> hits;
  std::vector<math::CombineInput> inputs;
};

// Frames of true noise `sigma` on top of stars that all share, predicted with noise 1.
Night make_night(int frames, double sigma) {
  Night night{Image<float>(kWidth, frames), Image<float>(kWidth, frames, 1, 1.0f), {}, {}};
  math::Random random(3, 7);
  for (int j = 0; j < frames; ++j) {
    for (int x = 0; x < kWidth; ++x)
      night.values.plane()(x, j) = static_cast<float>(sigma * random.normal() + (x % 10 == 0 ? 500 : 0));
    night.hits.emplace_back(static_cast<std::size_t>(kWidth / math::kHitPixels + 1));
    night.inputs.push_back({night.values.plane().row(j), night.variances.plane().row(j), 0, 1});
  }
  return night;
}

std::vector<NoisePoint> curve_of(Night& night) {
  std::vector<float> mean(kWidth, 0.0f), sky(kWidth, 0.0f);
  std::vector<math::HitWord*> hits;
  for (auto& row : night.hits) hits.push_back(row.data());
  for (int x = 0; x < kWidth; x += 10) mean[static_cast<std::size_t>(x)] = 500;
  NoiseCurve curve(static_cast<int>(night.inputs.size()));
  std::vector<std::size_t> all(night.inputs.size());
  std::iota(all.begin(), all.end(), std::size_t{0});
  NoiseCurve::Sample sample;
  curve.sample({night.inputs, all, hits, mean.data(), sky.data(), 0, kWidth}, sample);
  curve.add(std::move(sample));
  return curve.points();
}

// 18000 samples: the standard error of a scatter from the MAD is 1.17 / sqrt(2 n) = 0.6 %; 2.5 % is four of them.
TEST(NoiseCurve, FallsWithTheRootOfTheFrames) {
  for (const double sigma : {1.0, 1.3}) {
    Night night = make_night(12, sigma);
    const auto points = curve_of(night);
    ASSERT_EQ(points.size(), 7u);
    EXPECT_EQ(points.front().frames, 1);
    EXPECT_EQ(points.back().frames, 12);
    for (const NoisePoint& p : points) {
      EXPECT_NEAR(p.noise, sigma / std::sqrt(p.frames), 0.025 * sigma / std::sqrt(p.frames)) << p.frames;
      EXPECT_NEAR(p.predicted, 1 / std::sqrt(p.frames), 1e-6) << p.frames;
    }
  }
}

TEST(NoiseCurve, WhatIsLeftOutDoesNotCount) {
  Night night = make_night(5, 1);
  for (int x = 0; x < kWidth; ++x) {
    night.values.plane()(x, 2) += 50;
    night.hits[2][static_cast<std::size_t>(x / math::kHitPixels)] |=
        static_cast<math::HitWord>(1 << (x % math::kHitPixels));
  }
  EXPECT_NEAR(curve_of(night).back().noise, 0.5, 0.0125);
}

// The even and the odd frames are the same then, and all frames together have no measured noise.
TEST(NoiseCurve, CopiesTellNothing) {
  Night night = make_night(6, 1);
  for (int j = 1; j < 6; j += 2) std::copy_n(night.values.plane().row(j - 1), kWidth, night.values.plane().row(j));
  const auto points = curve_of(night);
  ASSERT_FALSE(points.empty());
  EXPECT_LT(points.back().frames, 6);
  for (const NoisePoint& p : points) EXPECT_GT(p.noise, 0) << p.frames;
}

TEST(NoiseCurve, TwoFramesTellTheirNoiseAndOneDoesNot) {
  Night two = make_night(2, 1.3);
  const auto points = curve_of(two);
  ASSERT_EQ(points.size(), 2u);
  EXPECT_EQ(points.back().frames, 2);
  EXPECT_NEAR(points.back().noise, 1.3 / std::sqrt(2), 0.023);
  Night one = make_night(1, 1);
  EXPECT_TRUE(curve_of(one).empty());
}

}  // namespace
}  // namespace ng::reduce
