#include "finish/crop.h"

#include <gtest/gtest.h>

#include "math/random.h"

namespace ng::finish {
namespace {

// Every rectangle tried in turn.
int slow_largest_area(View<const std::uint8_t> good) {
  int best = 0;
  for (int y0 = 0; y0 < good.height; ++y0)
    for (int x0 = 0; x0 < good.width; ++x0) {
      int width = good.width - x0;
      for (int y1 = y0; y1 < good.height; ++y1) {
        int run = 0;
        while (run < width && good(x0 + run, y1) != 0) ++run;
        width = run;
        best = std::max(best, width * (y1 - y0 + 1));
      }
    }
  return best;
}

TEST(Crop, LargestRectangleMatchesItsSlowTwin) {
  math::Random random(2, 2);
  for (int trial = 0; trial < 300; ++trial) {
    const int width = 1 + static_cast<int>(random.uniform() * 14);
    const int height = 1 + static_cast<int>(random.uniform() * 11);
    const double density = 0.3 + 0.7 * random.uniform();
    Image<std::uint8_t> good(width, height);
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x) good.plane()(x, y) = random.uniform() < density ? 1 : 0;
    const Region r = largest_rectangle(good.plane());
    EXPECT_EQ(r.width * r.height, slow_largest_area(good.plane()));
    for (int y = r.y0; y < r.y0 + r.height; ++y)
      for (int x = r.x0; x < r.x0 + r.width; ++x) EXPECT_NE(good.plane()(x, y), 0);
  }
}

TEST(Crop, FindsTheCommonPartAndForgivesDefects) {
  Image<float> common(203, 150, 1, 1.0f);
  Image<float> first(203, 150, 1, 16.0f);
  Image<float> second(203, 150, 1, 9.0f);
  for (int y = 0; y < 150; ++y)
    for (int x = 0; x < 203; ++x) {
      if (x < 21) first.plane()(x, y) = 4;     // a quarter of the frames
      if (y >= 130) second.plane()(x, y) = 0;  // none
    }
  for (int i = 0; i < 40; ++i) first.plane()(40 + 3 * i, 20 + 2 * i) = 0;  // defects
  for (int y = 60; y < 84; ++y)                                            // a bright star whose flanks were rejected
    for (int x = 100; x < 130; ++x) second.plane()(x, y) = 2;
  fold_coverage(first.plane(), common.plane());
  fold_coverage(second.plane(), common.plane());
  // Rejected values: one pixel in twenty has few frames, as after a night of trails and cosmic rays.
  math::Random random(5, 0);
  for (int y = 0; y < 150; ++y)
    for (int x = 0; x < 203; ++x)
      if (random.uniform() < 0.05) common.plane()(x, y) *= 0.3f;
  EXPECT_EQ(common_region(common.plane(), {}), (Region{24, 0, 179, 128}));  // grain of 8 pixels
  EXPECT_EQ(common_region(common.plane(), {.min_coverage_share = 0.2}), (Region{0, 0, 203, 128}));
  EXPECT_LT(common_region(common.plane(), {.forgiven_blocks = 3}).height, 70);  // a hole too large to bridge
  Image<float> edge(100, 80, 1, 1.0f);
  for (int y = 0; y < 80; ++y)
    for (int x = 0; x < 3; ++x) edge.plane()(x, y) = 0;  // less than half of a block
  EXPECT_EQ(common_region(edge.plane(), {}), (Region{3, 0, 97, 80}));
  Image<float> nothing(50, 50, 1, 0.0f);
  EXPECT_TRUE(common_region(nothing.plane(), {}).empty());
}

}  // namespace
}  // namespace ng::finish
