// math/sorting_network.h - compare and exchange, in an order that sorts whatever the values are.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace ng::math {

// Batcher's odd-even merge exchange (Knuth, TAOCP vol. 3, 5.2.2, algorithm M): the same sequence of compare-exchanges
// sorts any data, so that one vector instruction works on the pixels of several columns at once. Calls exchange(i, j),
// i < j, for every step.
template <typename Exchange>
constexpr void for_each_exchange(int n, const Exchange& exchange) {
  int top = 1;
  while (top < n) top *= 2;
  for (int p = top / 2; p > 0; p /= 2) {
    for (int q = top / 2, r = 0, d = p;; d = q - p, q /= 2, r = p) {
      for (int i = 0; i < n - d; ++i)
        if ((i & p) == r) exchange(i, i + d);
      if (q == p) break;
    }
  }
}

struct Exchange {
  std::uint16_t low, high;
};
using Network = std::vector<Exchange>;

inline Network sorting_network(int n) {
  Network steps;
  for_each_exchange(n, [&](int i, int j) {
    steps.push_back({static_cast<std::uint16_t>(i), static_cast<std::uint16_t>(j)});
  });
  return steps;
}

// The same, known to the compiler.
template <int N>
constexpr auto fixed_network() {
  constexpr auto count = [] {
    std::size_t steps = 0;
    for_each_exchange(N, [&](int, int) { ++steps; });
    return steps;
  }();
  std::array<Exchange, count> steps{};
  std::size_t k = 0;
  for_each_exchange(N, [&](int i, int j) {
    steps[k++] = {static_cast<std::uint16_t>(i), static_cast<std::uint16_t>(j)};
  });
  return steps;
}

}  // namespace ng::math
