#include "math/half_rows.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <vector>

#include "math/random.h"

namespace ng::math {
namespace {

// Slow twin: the definition, in double. Floats of up to 1000 are summed to a few units in the last place.
TEST(HalfRows, AreMeansOfFour) {
  Random random(7, 1);
  for (const int width : {1, 3, 8, 16, 33, 100}) {
    std::vector<float> upper, lower;
    for (int x = 0; x < 2 * width; ++x) {
      upper.push_back(static_cast<float>(1000 * random.uniform()));
      lower.push_back(static_cast<float>(1000 * random.uniform()));
    }
    const std::size_t hole = static_cast<std::size_t>(2 * width - 1);
    lower[hole] = std::numeric_limits<float>::quiet_NaN();
    std::vector<float> out(static_cast<std::size_t>(width) + 1, -1.0f);
    half_rows(upper.data(), lower.data(), width, out.data());
    for (std::size_t x = 0; x + 1 < static_cast<std::size_t>(width); ++x)
      ASSERT_NEAR(out[x], (static_cast<double>(upper[2 * x]) + upper[2 * x + 1] + lower[2 * x] + lower[2 * x + 1]) / 4,
                  2e-4)
          << width << " " << x;
    EXPECT_TRUE(std::isnan(out[hole / 2]));
    EXPECT_EQ(out.back(), -1.0f);
  }
}

}  // namespace
}  // namespace ng::math
