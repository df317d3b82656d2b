// Two sets of darks drawn with known differences.
#include "diagnose/dark_drift.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"

namespace ng::diagnose {
namespace {

constexpr int kWidth = 320, kHeight = 256;

struct Sensor {
  double usual = 3;      // dark signal at 300 s, ADU
  double hot_shift = 0;  // share of the hot pixels that are others
  double hot_power = 1;  // their signal goes with exposure to this power
};

// `count` darks; the hot pixels, one in 200, are drawn from the place alone.
FrameStack darks(const Sensor& s, double seconds, int count, std::uint64_t set) {
  FrameStack stack;
  for (int n = 0; n < count; ++n) {
    math::Random noise(77, set * 100 + static_cast<std::uint64_t>(n));
    math::Random place(5, 1), other(6, 1), which(7, 1);
    Image<float> frame(kWidth, kHeight);
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x) {
        const double here = place.uniform(), there = other.uniform();
        const bool moved = which.uniform() < s.hot_shift;
        const bool hot = (moved ? there : here) < 0.005;
        const double share = seconds / 300;
        const double signal = s.usual * share + (hot ? 400 * std::pow(share, s.hot_power) : 0);
        frame.plane()(x, y) = static_cast<float>(500 + signal + 2 * noise.normal());
      }
    EXPECT_TRUE(stack.add(std::as_const(frame).plane(), {}).ok());
  }
  return stack;
}

TEST(DarkDrift, TheSameSensorHolds) {
  const auto d = dark_drift(darks({}, 300, 6, 1), darks({}, 300, 6, 2), {});
  ASSERT_TRUE(d.ok());
  EXPECT_FALSE(d->drifted);
  EXPECT_NEAR(d->level_adu.value, 0, 4 * d->level_adu.error);
  EXPECT_NEAR(d->scatter_adu, 2, 0.03);  // 20000 pixels sampled or more: 1 %
  EXPECT_EQ(d->hot_changed, 0);
  EXPECT_NEAR(static_cast<double>(d->hot_new), 0.005 * kWidth * kHeight, 4 * std::sqrt(0.005 * kWidth * kHeight));
}

TEST(DarkDrift, LevelAndMapAreSeen) {
  const auto warmer = dark_drift(darks({}, 300, 6, 1), darks({3.6, 0, 1}, 300, 6, 2), {});
  ASSERT_TRUE(warmer.ok());
  EXPECT_TRUE(warmer->drifted);
  EXPECT_NEAR(warmer->level_adu.value, 0.6, 4 * warmer->level_adu.error);
  const auto other = dark_drift(darks({}, 300, 6, 1), darks({3, 0.3, 1}, 300, 6, 2), {});
  ASSERT_TRUE(other.ok());
  EXPECT_TRUE(other->drifted);
  // Of 410 hot pixels 0.3 went and as many came.
  EXPECT_NEAR(static_cast<double>(other->hot_changed), 2 * 0.3 * 0.005 * kWidth * kHeight, 60);
  EXPECT_EQ(dark_drift(darks({}, 300, 1, 1), darks({}, 300, 6, 2), {}).error().code(), Code::kTooFew);
}

TEST(DarkScaling, ValidOnlyWhereHotPixelsFollow) {
  const FrameStack bias = darks({}, 0, 8, 9);
  const auto good = dark_scaling(bias, darks({}, 100, 8, 1), 100, darks({}, 300, 8, 2), 300, {});
  ASSERT_TRUE(good.ok());
  EXPECT_TRUE(good->valid);
  EXPECT_NEAR(good->hot.value, 1.0 / 3, 4 * good->hot.error);
  EXPECT_NEAR(good->usual.value, 1.0 / 3, 4 * good->usual.error);
  const Sensor bent{3, 0, 1.2};
  const auto bad = dark_scaling(bias, darks(bent, 100, 8, 1), 100, darks(bent, 300, 8, 2), 300, {});
  ASSERT_TRUE(bad.ok());
  EXPECT_FALSE(bad->valid);
  const Sensor cold{0, 0, 1};
  EXPECT_EQ(dark_scaling(bias, darks(cold, 100, 8, 1), 100, darks(cold, 300, 8, 2), 300, {}).error().code(),
            Code::kTooFew);
}

}  // namespace
}  // namespace ng::diagnose
