#include "reduce/stack/repeat_noise.h"

#include <gtest/gtest.h>

#include <cmath>
#include <memory>

#include "base/parallel.h"
#include "math/random.h"
#include "reduce/single/demosaic_noise.h"
#include "reduce/test_source.h"

namespace ng::reduce {
namespace {

constexpr int kWidth = 600, kHeight = 500;
constexpr double kNoise = 10;

// Where stars too faint to be seen lie so densely that no pixel is free of them: the same for all frames.
double crowd(double x, double y) {
  return 6 * std::sin(0.9 * x + 0.3 * y) * std::sin(0.4 * x - 1.1 * y) + 5 * std::sin(1.3 * x) * std::sin(0.8 * y + 1);
}

struct Night {
  std::vector<std::unique_ptr<MemorySource>> sources;
  std::vector<StackFrame> frames;
  std::vector<int> groups;
  StackOptions options;
};

// Frames that lie some fractions of pixels apart, of noise kNoise on top of the crowd; `stated` is what they state.
Night night(int frames, double stated, std::optional<BayerPattern> bayer = {}) {
  Night result;
  result.options.width = kWidth;
  result.options.height = kHeight;
  result.options.planes = bayer ? 3 : 1;
  for (int p = 0; p < result.options.planes; ++p)
    result.options.sky[static_cast<std::size_t>(p)] = Image<float>(10, 8, 1, 400.0f);
  const std::array<double, 3> demosaiced =
      bayer ? demosaic_noise(*bayer, {}, {kNoise, kNoise, kNoise}) : std::array<double, 3>{1, 1, 1};
  for (int j = 0; j < frames; ++j) {
    math::Random random(5, static_cast<std::uint64_t>(j));
    const double dx = 3 * random.uniform(), dy = 3 * random.uniform();
    Image<float> image(kWidth, kHeight);
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x)
        image.plane()(x, y) = static_cast<float>(400 + kNoise * random.normal() + (bayer ? 0 : crowd(x + dx, y + dy)));
    result.sources.push_back(std::make_unique<MemorySource>(std::move(image)));
    StackFrame f;
    f.source = result.sources.back().get();
    f.bayer = bayer;
    f.to_master = math::Homography(math::Affine{1, 0, dx, 0, 1, dy});
    for (std::size_t p = 0; p < 3; ++p) {
      f.planes[p].noise = stated;
      f.planes[p].demosaiced_variance = demosaiced[p];
    }
    result.frames.push_back(f);
    result.groups.push_back(0);
  }
  return result;
}

std::array<double, 3> ratio_of(const Night& n, const Context& ctx = {}) {
  const auto ratio = repeat_noise(n.frames, n.groups, n.options, ctx);
  EXPECT_TRUE(ratio.ok());
  return ratio.ok() ? *ratio : std::array<double, 3>{};
}

// The scatter of a frame of such a field is 10.8; it states 13. Some 8000 samples a pair: 0.9 % of error; 3 % are more
// than three of them.
TEST(RepeatNoise, IsWhatFramesDifferBy) {
  EXPECT_NEAR(ratio_of(night(2, 13))[0], kNoise / 13, 0.03 * kNoise / 13);
  EXPECT_NEAR(ratio_of(night(7, 13))[0], kNoise / 13, 0.03 * kNoise / 13);
}

// Interpolated colours share their noise; what demosaic_noise() says of it is right, or this would not come out as 1.
TEST(RepeatNoise, KnowsWhatDemosaicingDoesToNoise) {
  for (const double ratio : ratio_of(night(6, kNoise, BayerPattern::kGrbg))) EXPECT_NEAR(ratio, 1, 0.02);
}

TEST(RepeatNoise, SaysNothingOfFramesThatShareNoSky) {
  Night apart = night(2, 13);
  apart.frames[1].to_master = math::Homography(math::Affine{1, 0, 3.0 * kWidth, 0, 1, 0});
  EXPECT_EQ(ratio_of(apart)[0], 1);
  Night panels = night(2, 13);
  panels.groups[1] = 1;
  EXPECT_EQ(ratio_of(panels)[0], 1);
}

TEST(RepeatNoise, SameBitsForAnyPool) {
  const Night n = night(8, 13);
  const double alone = ratio_of(n)[0];
  for (const int threads : {2, 5}) {
    ThreadPool pool(threads);
    EXPECT_EQ(ratio_of(n, {.pool = &pool})[0], alone);
  }
}

}  // namespace
}  // namespace ng::reduce
