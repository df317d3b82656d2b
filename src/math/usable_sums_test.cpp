#include "math/usable_sums.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "math/random.h"

namespace ng::math {
namespace {

TEST(UsableSums, AreThoseOfAPlainLoop) {
  Random random(3, 1);
  for (int width = 0; width < 90; ++width) {
    const auto n = static_cast<std::size_t>(width);
    std::vector<float> row(n), sum(n, 1), count(n, 2);
    std::vector<std::uint8_t> masked(n);
    for (std::size_t x = 0; x < n; ++x) {
      const double kind = random.uniform();
      row[x] = static_cast<float>(12 * random.uniform() - 6);
      if (kind < 0.1) row[x] = std::nanf("");
      if (kind > 0.9) row[x] = std::numeric_limits<float>::infinity();
      masked[x] = static_cast<std::uint8_t>(kind > 0.3 && kind < 0.5 ? 255 * (x % 2) + x % 3 : 0);
    }
    add_usable(row.data(), masked.data(), 4, width, sum.data(), count.data());
    for (std::size_t x = 0; x < n; ++x) {
      const bool use = masked[x] == 0 && !std::isnan(row[x]);
      ASSERT_EQ(sum[x], 1 + (use ? std::clamp(row[x], -4.0f, 4.0f) : 0)) << x << " of " << n;
      ASSERT_EQ(count[x], use ? 3 : 2) << x << " of " << n;
    }
  }
}

}  // namespace
}  // namespace ng::math
