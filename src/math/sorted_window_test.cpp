#include "math/sorted_window.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "math/random.h"

namespace ng::math {
namespace {

// The same of the sorted whole.
Ties slow_ties(const std::vector<float>& sorted, std::size_t rank) {
  const float value = sorted[rank];
  const auto [first, last] = std::equal_range(sorted.begin(), sorted.end(), value);
  return {value, static_cast<std::size_t>(first - sorted.begin()), static_cast<std::size_t>(last - first),
          first == sorted.begin() ? value : *(first - 1), last == sorted.end() ? value : *last};
}

// Noise, noise with stars, steps, few values, values in order (which the sample meets evenly), values that a sample of
// every n-th never meets, and all the same.
std::vector<float> example(int kind, int n) {
  Random random(21, static_cast<std::uint64_t>(kind));
  std::vector<float> values;
  for (int i = 0; i < n; ++i) {
    double v = random.normal();
    if (kind == 1 && i % 7 == 0) v += 1000 * random.uniform();
    if (kind == 2) v = std::round(3 * v);
    if (kind == 3) v = i;
    if (kind == 4) v = i % 8 == 0 ? 1000 + v : v;
    if (kind == 5) v = 7;
    if (kind == 6) v = i == n / 2 ? 8 : 7;
    values.push_back(static_cast<float>(v));
  }
  return values;
}

TEST(SortedWindow, AnswersAsTheSortedWholeDoes) {
  for (int kind = 0; kind <= 6; ++kind) {
    for (const int n : {1, 2, 15, 16, 127, 128, 129, 1000, 1024, 5000}) {
      const std::vector<float> values = example(kind, n);
      std::vector<float> sorted = values;
      std::sort(sorted.begin(), sorted.end());
      SortedWindow window(values);
      for (int k = 0; k <= 40; ++k) {
        const std::size_t rank = static_cast<std::size_t>(k) * 977 % static_cast<std::size_t>(n);
        const Ties a = window.at(rank), b = slow_ties(sorted, rank);
        ASSERT_EQ(a.value, b.value) << kind << " " << n << " " << rank;
        ASSERT_EQ(a.first, b.first);
        ASSERT_EQ(a.count, b.count);
        ASSERT_EQ(a.below, b.below);
        ASSERT_EQ(a.above, b.above);
        const auto up_to =
            static_cast<std::size_t>(std::upper_bound(sorted.begin(), sorted.end(), b.value) - sorted.begin());
        ASSERT_EQ(window.count_up_to(b.value), up_to);
      }
    }
  }
}

}  // namespace
}  // namespace ng::math
