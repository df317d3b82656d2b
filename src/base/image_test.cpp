#include "base/image.h"

#include <gtest/gtest.h>

#include <cstdint>

namespace ng {
namespace {

TEST(Image, PlanesAndViewsShareTheMemory) {
  Image<float> image(5, 3, 2, 1.0f);
  image.plane(1)(4, 2) = 7;
  EXPECT_EQ(image.plane(0)(4, 2), 1);
  EXPECT_EQ(image.plane(1).crop({3, 1, 2, 2})(1, 1), 7);
  EXPECT_EQ(reinterpret_cast<std::uintptr_t>(image.plane(1).row(2)) % 64, 0u);
  const Image<float> copy = image.clone();
  image.plane(1)(4, 2) = 0;
  EXPECT_EQ(copy.plane(1)(4, 2), 7);
}

TEST(Region, Intersection) {
  EXPECT_EQ(intersect({0, 0, 10, 10}, {5, 6, 10, 10}), (Region{5, 6, 5, 4}));
  EXPECT_TRUE(intersect({0, 0, 10, 10}, {20, 0, 5, 5}).empty());
}

}  // namespace
}  // namespace ng
