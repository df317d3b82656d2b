#include "math/weighted_rows.h"

#include <gtest/gtest.h>

#include <array>
#include <vector>

#include "math/random.h"

namespace ng::math {
namespace {

// The slow twin is the sum as the header writes it, in double. 1e-6: rounding of seven products near 1 in float.
TEST(WeightedRows, EverySumOnAwkwardWidths) {
  Random random(5, 5);
  std::vector<float> values(300);
  for (float& v : values) v = static_cast<float>(random.normal());
  const std::array<float, 7> weights = {0.05f, 0.1f, 0.2f, 0.3f, 0.2f, 0.1f, 0.05f};
  for (const int width : {1, 7, 16, 31, 200}) {
    std::vector<const float*> rows;
    for (std::size_t k = 0; k < weights.size(); ++k) rows.push_back(values.data() + 13 * k);
    std::vector<float> out(static_cast<std::size_t>(width) + 1, -7.0f);
    sum_weighted_rows(rows, weights, width, out.data());
    for (std::size_t x = 0; x < static_cast<std::size_t>(width); ++x) {
      double expected = 0;
      for (std::size_t k = 0; k < weights.size(); ++k) expected += static_cast<double>(weights[k]) * rows[k][x];
      EXPECT_NEAR(out[x], expected, 1e-6) << width << " " << x;
    }
    EXPECT_EQ(out[static_cast<std::size_t>(width)], -7.0f);
  }
}

}  // namespace
}  // namespace ng::math
