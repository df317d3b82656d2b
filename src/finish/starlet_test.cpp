#include "finish/starlet.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>

#include "base/parallel.h"
#include "finish/test_scene.h"

namespace ng::finish {
namespace {

// The smoothing straight from its definition: 25 products per pixel.
double slow_smooth(View<const float> in, int gap, int x, int y) {
  const double kernel[5] = {1, 4, 6, 4, 1};
  const auto fold = [](int i, int n) {
    while (i < 0 || i >= n) i = i < 0 ? -i : 2 * (n - 1) - i;
    return i;
  };
  double sum = 0;
  for (int j = -2; j <= 2; ++j)
    for (int i = -2; i <= 2; ++i)
      sum += kernel[i + 2] * kernel[j + 2] / 256 * in(fold(x + i * gap, in.width), fold(y + j * gap, in.height));
  return sum;
}

TEST(Starlet, MatchesItsSlowTwin) {
  for (const auto& [width, height] : {std::pair{2, 3}, {7, 5}, {33, 64}, {65, 31}}) {
    Image<float> image(width, height, 1, 20.0f);
    test::add_noise(image.plane(), 5, static_cast<std::uint64_t>(width));
    Image<float> out(width, height);
    Image<float> scratch(width, height);
    for (int scale = 0; scale < 5; ++scale) {
      ThreadPool pool(1 + scale);
      ASSERT_TRUE(starlet_smooth(image.plane(), scale, out.plane(), scratch.plane(), {.pool = &pool}).ok());
      for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x)
          EXPECT_NEAR(out.plane()(x, y), slow_smooth(image.plane(), 1 << scale, x, y), 1e-5);  // float rounding
    }
  }
}

// The coefficients of a single bright pixel are the filter; its norm is the noise for white noise of 1. The book's
// table was found by simulation, three digits.
TEST(Starlet, NoiseOfTheScales) {
  constexpr double kBook[kMaxStarletScales] = {0.889, 0.200, 0.086, 0.041, 0.020, 0.010, 0.005};
  const int size = 601;
  Image<float> current(size, size, 1, 0.0f);
  current.plane()(300, 300) = 1;
  Image<float> next(size, size);
  Image<float> scratch(size, size);
  for (int scale = 0; scale < kMaxStarletScales; ++scale) {
    ASSERT_TRUE(starlet_smooth(current.plane(), scale, next.plane(), scratch.plane(), {}).ok());
    double squares = 0;
    for (int y = 0; y < size; ++y)
      for (int x = 0; x < size; ++x)
        squares += std::pow(static_cast<double>(current.plane()(x, y)) - static_cast<double>(next.plane()(x, y)), 2);
    const double norm = std::sqrt(squares);
    EXPECT_NEAR(norm, kStarletNoise[static_cast<std::size_t>(scale)], 2e-6);
    EXPECT_NEAR(norm, kBook[scale], 0.002);
    std::swap(current, next);
  }
}

}  // namespace
}  // namespace ng::finish
