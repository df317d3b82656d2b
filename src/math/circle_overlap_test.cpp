#include "math/circle_overlap.h"

#include <gtest/gtest.h>

#include <numbers>

#include "math/circle_overlap_slow.h"

namespace ng::math {
namespace {

TEST(CircleOverlap, PixelsSumToTheCircle) {
  for (const double r : {0.2, 0.5, 0.9, 1.7, 4.0, 7.3}) {
    double sum = 0;
    for (int y = -9; y <= 9; ++y)
      for (int x = -9; x <= 9; ++x) sum += circle_pixel_overlap(x - 0.37, y + 0.21, r);
    EXPECT_NEAR(sum, std::numbers::pi * r * r, 1e-10) << r;
  }
}

// Pixels that hold the centre, lie across an axis, touch the circle, or see it bulge into one side. 1e-10: where a side
// touches the circle, the arcsine of the twin loses half of its digits.
TEST(CircleOverlap, EveryPixelMatchesItsSlowTwin) {
  for (const double r : {0.1, 0.3, 0.5, 0.75, 1.0, 1.5, 2.5, 6.2}) {
    for (int j = -75; j <= 75; ++j) {
      for (int i = -75; i <= 75; ++i) {
        const double dx = 0.1 * i, dy = 0.1 * j;
        ASSERT_NEAR(circle_pixel_overlap(dx, dy, r), slow::circle_pixel_overlap(dx, dy, r), 1e-10)
            << dx << " " << dy << " " << r;
      }
    }
  }
}

// photutils 1.6, exact aperture of radius 4 at (20.3, 19.6) on the ramp x + 2 y: 2990.7056837213026 (check I12).
TEST(CircleOverlap, ExactApertureOnARamp) {
  double sum = 0;
  for (int y = 0; y < 41; ++y)
    for (int x = 0; x < 41; ++x) sum += circle_pixel_overlap(x - 20.3, y - 19.6, 4) * (x + 2 * y);
  EXPECT_NEAR(sum, 2990.7056837213026, 1e-8);
}

}  // namespace
}  // namespace ng::math
