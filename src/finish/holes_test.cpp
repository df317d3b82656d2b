#include "finish/holes.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "finish/test_scene.h"

namespace ng::finish {
namespace {

constexpr float kNan = std::numeric_limits<float>::quiet_NaN();

TEST(Holes, AreBridgedSmoothlyAndKnownPixelsStay) {
  Image<float> image(97, 71, 1, 0.0f);
  test::add_light(image.plane(), [](double x, double y) { return 100 + 0.5 * x - 0.3 * y; });
  const Image<float> truth = image.clone();
  for (int y = 20; y < 26; ++y)
    for (int x = 40; x < 49; ++x) image.plane()(x, y) = kNan;
  image.plane()(0, 0) = kNan;
  image.plane()(96, 70) = kNan;
  EXPECT_EQ(fill_holes(image.plane()), 56);
  for (int y = 0; y < 71; ++y)
    for (int x = 0; x < 97; ++x) {
      const bool hole = (x >= 40 && x < 49 && y >= 20 && y < 26) || (x == 0 && y == 0) || (x == 96 && y == 70);
      // A slope of 0.6 per pixel over a hole of 9 pixels: within the change across half of it.
      EXPECT_NEAR(image.plane()(x, y), truth.plane()(x, y), hole ? 3.0 : 0.0);
    }
}

TEST(Holes, NoneAndNothingElse) {
  Image<float> full(5, 4, 1, 2.0f);
  EXPECT_EQ(fill_holes(full.plane()), 0);
  Image<float> unknown(6, 3, 1, kNan);
  EXPECT_EQ(fill_holes(unknown.plane()), 18);
  EXPECT_EQ(unknown.plane()(3, 1), 0);
  Image<float> one(1, 1, 1, kNan);
  EXPECT_EQ(fill_holes(one.plane()), 1);
  EXPECT_EQ(one.plane()(0, 0), 0);
}

}  // namespace
}  // namespace ng::finish
