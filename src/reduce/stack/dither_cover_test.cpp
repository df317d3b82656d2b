#include "reduce/stack/dither_cover.h"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "math/random.h"
#include "reduce/stack/drizzle.h"

namespace ng::reduce {
namespace {

DropFrame frame_at(double dx, double dy) {
  DropFrame f;
  f.width = 300;
  f.height = 200;
  f.bayer = BayerPattern::kRggb;
  f.to_output = math::Homography(math::Affine{1, 0, dx, 0, 1, dy});
  return f;
}

// One frame, not moved: every fourth pixel gets all, the others nothing. W is 4, 0, 0, 0 times its mean.
TEST(DitherCover, OneFrameOfAMosaicLeavesHoles) {
  const std::vector<DropFrame> frames{frame_at(0, 0)};
  const DitherCover cover = dither_cover(frames, 300, 200, 3);
  EXPECT_NEAR(cover.unevenness, std::sqrt(3.0), 1e-9);
  EXPECT_NEAR(cover.empty_share, 0.75, 1e-9);
  EXPECT_NE(cover.plane, 1);
}

// Four frames at the four phases: as even as a mono frame, whatever the size of the drop.
TEST(DitherCover, FourPhasesAreEven) {
  std::vector<DropFrame> frames;
  for (const auto& [dx, dy] : {std::pair{0.0, 0.0}, {1.0, 4.0}, {-2.0, 3.0}, {5.0, -1.0}})
    frames.push_back(frame_at(dx, dy));
  for (DropFrame& f : frames) f.pixfrac = 0.6;
  const DitherCover cover = dither_cover(frames, 300, 200, 3);
  EXPECT_NEAR(cover.unevenness, 0, 1e-9);
  EXPECT_EQ(cover.empty_share, 0);
}

// Random dithers. The share of a pixel that a red drop of side 1 covers has the mean 1/4 over all places and the mean
// square (2/3)^2 / 4, so that W of n frames scatters by sqrt(7 / 9) / sqrt(n). All patches see the same phases: a night
// is little more than two independent squares, and of 160 nights the root mean square is known to 4 %.
TEST(DitherCover, RandomDithersScatterAsDerived) {
  math::Random random(11, 2);
  double squares = 0;
  for (int trial = 0; trial < 160; ++trial) {
    std::vector<DropFrame> frames;
    for (int j = 0; j < 16; ++j) frames.push_back(frame_at(20 * random.uniform(), 20 * random.uniform()));
    for (DropFrame& f : frames) f.bayer = BayerPattern::kRggb;
    const DitherCover cover = dither_cover(frames, 300, 200, 1);  // red alone
    squares += cover.unevenness * cover.unevenness;
  }
  EXPECT_NEAR(std::sqrt(squares / 160 * 16 / (7.0 / 9)), 1, 0.1);
}

// As many random dithers as make the weights even: the ratio that is published (drizzle.h), to the 3 % by which 60
// frames are still uneven; with other weights and noises alike, as they cancel.
TEST(DitherCover, NoiseCorrelationOfManyDithersIsThePublishedOne) {
  for (const auto& [pixfrac, scale] : {std::pair{1.0, 1.0}, {0.6, 1.0}, {0.8, 0.5}}) {
    math::Random random(12, 2);
    std::vector<DropFrame> frames;
    for (int j = 0; j < 60; ++j) {
      DropFrame f = frame_at(0, 0);
      f.to_output = to_drizzled(scale).after(
          math::Homography(math::Affine{1, 0, 20 * random.uniform(), 0, 1, 20 * random.uniform()}));
      f.bayer.reset();
      f.pixfrac = pixfrac;
      f.weight[0] = 2;
      f.variance[0] = 400;
      frames.push_back(f);
    }
    const DitherCover cover = dither_cover(frames, drizzled_size(300, scale), drizzled_size(200, scale), 1);
    EXPECT_NEAR(cover.noise_correlation / noise_correlation(pixfrac, scale), 1, 0.03) << pixfrac << " " << scale;
  }
}

// Two panels side by side, neither of which half of all frames show: as even as each by itself, and the noise of a wide
// area is that of the four frames that see it.
TEST(DitherCover, PanelsCountEachForItself) {
  std::vector<DropFrame> frames;
  for (const auto& [dx, dy] : {std::pair{0.0, 0.0}, {1.0, 4.0}, {-2.0, 3.0}, {5.0, -1.0}}) {
    for (const int panel : {0, 1}) {
      frames.push_back(frame_at(dx + 280 * panel, dy));
      frames.back().panel = panel;
    }
  }
  const DitherCover both = dither_cover(frames, 580, 200, 3);
  std::vector<DropFrame> one;
  for (const DropFrame& f : frames)
    if (f.panel == 0) one.push_back(f);
  EXPECT_NEAR(both.unevenness, 0, 1e-9);
  EXPECT_EQ(both.empty_share, 0);
  EXPECT_NEAR(both.noise_correlation, dither_cover(one, 300, 200, 3).noise_correlation, 1e-9);
}

TEST(DitherCover, FramesThatMissTheOutputCoverNothing) {
  const std::vector<DropFrame> frames{frame_at(5000, 0)};
  EXPECT_EQ(dither_cover(frames, 300, 200, 3).empty_share, 1);
}

}  // namespace
}  // namespace ng::reduce
