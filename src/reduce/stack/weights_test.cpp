#include "reduce/stack/weights.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "math/random.h"

namespace ng::reduce {
namespace {

// Squared signal-to-noise ratio of a star of flux 1 in the weighted mean, from the overlap of two Gaussians.
double point_snr2(const std::vector<FrameWorth>& frames, const std::vector<double>& w) {
  double signal = 0, noise = 0;
  for (std::size_t i = 0; i < frames.size(); ++i) {
    for (std::size_t j = 0; j < frames.size(); ++j) {
      const double s2 = (std::pow(frames[i].fwhm_px, 2) + std::pow(frames[j].fwhm_px, 2)) / (8 * std::numbers::ln2);
      signal += w[i] * w[j] / (2 * std::numbers::pi * s2);
    }
    noise += w[i] * w[i] * frames[i].variance;
  }
  return signal / noise;
}

std::vector<FrameWorth> uneven_night() {
  std::vector<FrameWorth> frames;
  math::Random random(5, 1);
  for (int j = 0; j < 24; ++j) frames.push_back({20 + 80 * random.uniform(), 2 + 3 * random.uniform()});
  return frames;
}

// Inverse variances are the weights of least variance of a mean (Gauss, Markov).
TEST(Weights, ExtendedSourcesWantInverseVariances) {
  const auto w = best_weights(std::vector<FrameWorth>{{10, 2}, {40, 3}, {20, 0}}, Aim::kExtended);
  EXPECT_DOUBLE_EQ(w[0], 1);
  EXPECT_DOUBLE_EQ(w[1], 0.25);
  EXPECT_DOUBLE_EQ(w[2], 0.5);
}

TEST(Weights, LikeFramesWeighAlike) {
  for (const double w : best_weights(std::vector<FrameWorth>(7, {30, 2.5}), Aim::kPoint)) EXPECT_NEAR(w, 1, 1e-12);
}

// At the maximum every small change makes it worse.
TEST(Weights, NoChangeFindsFaintStarsBetter) {
  const auto frames = uneven_night();
  const auto best = best_weights(frames, Aim::kPoint);
  const double top = point_snr2(frames, best);
  EXPECT_GT(top, point_snr2(frames, best_weights(frames, Aim::kExtended)));
  EXPECT_GT(top, point_snr2(frames, relative_information(frames, Aim::kPoint)));
  math::Random random(5, 2);
  for (int trial = 0; trial < 200; ++trial) {
    auto changed = best;
    for (double& w : changed) w = std::max(0.0, w + 0.02 * random.normal());
    EXPECT_LT(point_snr2(frames, changed), top);
  }
}

TEST(Weights, AFrameWithoutStarsCountsAsUsual) {
  const auto w = best_weights(std::vector<FrameWorth>{{10, 2}, {10, 3}, {10, 0}, {10, 4}}, Aim::kPoint);
  EXPECT_NEAR(w[2], w[1], 1e-12);
}

TEST(Weights, OfNothingNothing) {
  EXPECT_TRUE(best_weights({}, Aim::kPoint).empty());
}

}  // namespace
}  // namespace ng::reduce
