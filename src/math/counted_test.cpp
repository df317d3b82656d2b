#include "math/counted.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"

namespace ng::math {
namespace {

// The slow twin adds values and counts apart.
TEST(Counted, OneSumTellsBoth) {
  Random random(8, 2);
  for (const double middle : {-6.0, -1.0, 0.0, 1.0, 6.0}) {
    std::int32_t sum = 0;
    double values = 0;
    int count = 0;
    for (int k = 0; k < kMostCounted; ++k) {
      const double drawn = middle + random.normal();
      const float value = std::fmax(-kMostCountedValue, std::fmin(kMostCountedValue, static_cast<float>(drawn)));
      const bool none = random.uniform() < 0.1;
      const bool emptied = random.uniform() < 0.1;
      if (none) continue;
      const std::int32_t one = emptied ? without_value(counted(value)) : counted(value);
      ASSERT_EQ(count_of(one), 1);
      ASSERT_NEAR(value_of(one), emptied ? 0 : value, 0.5001 / kCountedSteps);  // half a step, and a float's rounding
      sum += one;
      values += static_cast<double>(value_of(one));
      ++count;
    }
    EXPECT_EQ(count_of(sum), count) << middle;
    EXPECT_EQ(static_cast<double>(value_of(sum)), values) << middle;  // steps of 2^-5 add up without rounding
  }
}

TEST(Counted, TheLongestSumOfTheHighestFits) {
  for (const float value : {-kMostCountedValue, kMostCountedValue}) {
    std::int64_t sum = 0;
    for (int k = 0; k < kMostCounted; ++k) sum += counted(value);
    ASSERT_EQ(sum, static_cast<std::int32_t>(sum));
    EXPECT_EQ(count_of(static_cast<std::int32_t>(sum)), kMostCounted);
    EXPECT_EQ(value_of(static_cast<std::int32_t>(sum)), kMostCounted * value);
  }
}

}  // namespace
}  // namespace ng::math
