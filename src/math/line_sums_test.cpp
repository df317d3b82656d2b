#include "math/line_sums.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"

namespace ng::math {
namespace {

// Slow twin: the digital line of the definition, pixel by pixel: halves of the columns, the rise halved with them.
double along(View<const float> image, int x0, int columns, int y, int rise) {
  if (columns == 1) return x0 < image.width && y >= 0 && y < image.height ? static_cast<double>(image(x0, y)) : 0.0;
  return along(image, x0, columns / 2, y, rise / 2) +
         along(image, x0 + columns / 2, columns / 2, y + (rise + 1) / 2, rise / 2);
}

TEST(LineSums, AreThoseOfTheDefinition) {
  Random random(3, 3);
  for (const auto& [width, height] : {std::pair{1, 4}, std::pair{8, 5}, std::pair{13, 20}, std::pair{32, 9}}) {
    Image<float> image(width, height);
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x) image.plane()(x, y) = static_cast<float>(random.normal());
    const Image<float> sums = line_sums(image.plane());
    const int n = sums.height();
    EXPECT_GE(n, width);
    for (int rise = 0; rise < n; ++rise)
      for (int y = -n; y < height; ++y)
        ASSERT_NEAR(sums.plane()(y + n, rise), along(image.plane(), 0, n, y, rise), 1e-4) << rise << " " << y;
  }
}

// A straight line drawn with a width of one pixel is met by the digital one for at least four fifths of its light.
TEST(LineSums, MeetStraightLines) {
  for (const double rise : {0.0, 17.0, 60.0, 100.0, 127.0}) {
    Image<float> image(128, 260, 1, 0.0f);
    for (int x = 0; x < 128; ++x) {
      const double y = 40 + rise * x / 127;
      const int below = static_cast<int>(std::floor(y));
      image.plane()(x, below) += static_cast<float>(1 - (y - below));
      image.plane()(x, below + 1) += static_cast<float>(y - below);
    }
    const Image<float> sums = line_sums(image.plane());
    float best = 0;
    for (int s = 0; s < 128; ++s)
      for (int y = 0; y < sums.width(); ++y) best = std::max(best, sums.plane()(y, s));
    EXPECT_EQ(best, sums.plane()(40 + 128, static_cast<int>(rise))) << rise;
    EXPECT_GT(best, 0.8 * 128 * (rise == 0 ? 1 : 0.5)) << rise;
  }
}

}  // namespace
}  // namespace ng::math
