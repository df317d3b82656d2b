#include "math/best_line.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <limits>
#include <vector>

#include "math/counted.h"
#include "math/random.h"

namespace ng::math {
namespace {

TEST(BestLine, IsTheOneThatAPlainLoopFinds) {
  Random random(5, 1);
  int none = 0, too_low = 0;
  for (int n = 0; n < 200; ++n) {
    std::vector<std::int32_t> sums;
    for (int k = 0; k < n; ++k) {
      sums.push_back(0);
      const int terms = static_cast<int>(random.uniform() * 33);
      const float all = std::floor(static_cast<float>(random.uniform()) * 40 - 20);  // few values: equals are met
      for (int term = 0; term < terms; ++term) sums.back() += counted(term == 0 ? all / 4 : 0);
    }
    for (const double than : {-std::numeric_limits<double>::infinity(), 0.5}) {
      int at = -1;
      double best = than;
      bool any = false;
      for (int k = 0; k < n; ++k) {
        const std::int32_t sum = sums[static_cast<std::size_t>(k)];
        if (count_of(sum) < 30) continue;
        any = true;
        const double score = static_cast<double>(value_of(sum)) / std::sqrt(count_of(sum));
        if (score <= best) continue;
        best = score;
        at = k;
      }
      const Best found = best_line(sums, 30, than);
      ASSERT_EQ(found.at, at) << n;
      none += static_cast<int>(!any);
      too_low += static_cast<int>(any && at < 0);
      if (at >= 0) {
        EXPECT_EQ(found.snr, best);
      }
    }
  }
  EXPECT_GT(none, 5);  // those cases were met
  EXPECT_GT(too_low, 5);
}

}  // namespace
}  // namespace ng::math
