#include "math/best_line.h"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "math/random.h"

namespace ng::math {
namespace {

TEST(BestLine, IsTheOneThatAPlainLoopFinds) {
  Random random(5, 1);
  int none = 0;
  for (int n = 0; n < 200; ++n) {
    std::vector<float> sums, counts;
    for (int k = 0; k < n; ++k) {
      sums.push_back(std::floor(static_cast<float>(random.uniform()) * 40 - 20));  // few values: equals are met
      counts.push_back(std::floor(static_cast<float>(random.uniform()) * 33));
    }
    int at = -1;
    float best = -1e30f;
    for (int k = 0; k < n; ++k) {
      const auto i = static_cast<std::size_t>(k);
      const float score = sums[i] / std::sqrt(counts[i]);
      if (counts[i] < 30 || score <= best) continue;
      best = score;
      at = k;
    }
    const Best found = best_line(sums.data(), counts.data(), n, 30);
    ASSERT_EQ(found.at, at) << n;
    if (at < 0) {
      ++none;
    } else {
      EXPECT_NEAR(found.snr, static_cast<double>(best), 1e-6);  // rounding of a float near 4
    }
  }
  EXPECT_GT(none, 5);  // that case was met
}

}  // namespace
}  // namespace ng::math
