#include "reduce/single/bridge.h"

#include <gtest/gtest.h>

#include <limits>

namespace ng::reduce {
namespace {

TEST(Bridge, TakesTheMedianOfItsOwnColour) {
  Image<float> rows(9, 9);
  for (int y = 0; y < 9; ++y)
    for (int x = 0; x < 9; ++x) rows.plane()(x, y) = static_cast<float>((x & 1) * 100 + (y & 1) * 1000);
  rows.plane()(4, 4) = 60000;
  rows.plane()(5, 2) = std::numeric_limits<float>::quiet_NaN();
  Image<std::uint8_t> bad(9, 9, 1, std::uint8_t{0});
  bad.plane()(4, 4) = bad.plane()(5, 2) = 1;
  bridge_bad_pixels(rows.plane(), bad.plane(), 2, 0, 9);
  EXPECT_FLOAT_EQ(rows.plane()(4, 4), 0);
  EXPECT_FLOAT_EQ(rows.plane()(5, 2), 100);
  EXPECT_FLOAT_EQ(rows.plane()(1, 1), 1100);
}

}  // namespace
}  // namespace ng::reduce
