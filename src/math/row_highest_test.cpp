#include "math/row_highest.h"

#include <gtest/gtest.h>

#include <limits>
#include <vector>

#include "math/random.h"

namespace ng::math {
namespace {

// Slow twin: one after the other, wherever the highest and the holes lie.
TEST(RowHighest, IsThatOfTheRow) {
  Random random(3, 9);
  for (int width = 0; width < 70; ++width) {
    std::vector<float> row;
    float expected = 0;
    for (int x = 0; x < width; ++x) {
      row.push_back(random.uniform() < 0.1 ? std::numeric_limits<float>::quiet_NaN()
                                           : static_cast<float>(100 * random.normal()));
      if (row.back() > expected) expected = row.back();
    }
    EXPECT_EQ(row_highest(row.data(), width), expected) << width;
  }
}

}  // namespace
}  // namespace ng::math
