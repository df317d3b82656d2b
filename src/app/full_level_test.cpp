#include "app/full_level.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"

namespace ng::app {
namespace {

TEST(FullLevel, IsTheHeapAtTheEnd) {
  Image<float> raw(200, 100);
  math::Random random(4, 1);
  for (int y = 0; y < 100; ++y)
    for (int x = 0; x < 200; ++x) raw.plane()(x, y) = static_cast<float>(std::round(1000 + 30 * random.normal()));
  EXPECT_EQ(full_level(raw.plane()), 0);
  for (int i = 0; i < 20; ++i) raw.plane()(9 * i, 50) = static_cast<float>(64604 + i % 3);
  for (int i = 0; i < 6; ++i) raw.plane()(9 * i, 60) = static_cast<float>(63990 + 80 * i);
  EXPECT_NEAR(full_level(raw.plane()), 0.999 * 64606, 1);
  // Rows in any order, some at a time, tell the same.
  FullLevel level;
  for (int y0 = 96; y0 >= 0; y0 -= 4) level.add(raw.plane().rows(y0, 4));
  EXPECT_EQ(level.level(), full_level(raw.plane()));
}

// A frame that rises to its end without a heap there is not full.
TEST(FullLevel, IsNoneWhereValuesThinOut) {
  Image<float> raw(200, 100, 1, 1000.0f);
  for (int i = 0; i < 180; ++i) raw.plane()(i, 10) = static_cast<float>(60000 + 4 * i);
  EXPECT_EQ(full_level(raw.plane()), 0);
}

}  // namespace
}  // namespace ng::app
