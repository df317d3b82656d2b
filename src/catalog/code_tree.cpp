#include "catalog/code_tree.h"

#include <algorithm>
#include <cmath>

namespace ng::catalog {
namespace {

constexpr double kLow = -0.9, kHigh = 1.1;
constexpr double kSteps = 65535 / (kHigh - kLow);

void sort_range(std::span<Pattern> p, std::size_t axis) {
  if (p.size() < 2) return;
  const std::size_t middle = p.size() / 2;
  // The stars decide between equal codes, so that the same catalogue gives the same bytes on any machine.
  std::nth_element(p.begin(), p.begin() + static_cast<std::ptrdiff_t>(middle), p.end(),
                   [axis](const Pattern& a, const Pattern& b) {
                     return a.code[axis] != b.code[axis] ? a.code[axis] < b.code[axis] : a.star < b.star;
                   });
  sort_range(p.first(middle), (axis + 1) % 4);
  sort_range(p.subspan(middle + 1), (axis + 1) % 4);
}

struct Search {
  std::span<const Pattern> tree;
  std::array<double, 4> at{};
  double radius = 0;
  std::vector<std::uint32_t>& found;

  void range(std::size_t low, std::size_t high, std::size_t axis) {
    while (low < high) {
      const std::size_t middle = low + (high - low) / 2;
      const Pattern& p = tree[middle];
      const double along = at[axis] - p.code[axis];
      if (std::fabs(along) <= radius) {
        double squared = 0;
        for (std::size_t k = 0; k < 4; ++k) squared += (at[k] - p.code[k]) * (at[k] - p.code[k]);
        if (squared <= radius * radius) found.push_back(static_cast<std::uint32_t>(middle));
      }
      axis = (axis + 1) % 4;
      if (along > radius) {
        low = middle + 1;
      } else if (along < -radius) {
        high = middle;
      } else {
        range(low, middle, axis);
        low = middle + 1;
      }
    }
  }
};

}  // namespace

std::array<std::uint16_t, 4> packed_code(const StarCode& code) {
  std::array<std::uint16_t, 4> packed{};
  for (std::size_t k = 0; k < 4; ++k)
    packed[k] = static_cast<std::uint16_t>(std::clamp(std::round((code[k] - kLow) * kSteps), 0.0, 65535.0));
  return packed;
}

void sort_into_tree(std::span<Pattern> patterns) {
  sort_range(patterns, 0);
}

void find_near(std::span<const Pattern> tree, const StarCode& code, double radius, std::vector<std::uint32_t>& found) {
  Search search{tree, {}, radius * kSteps, found};
  for (std::size_t k = 0; k < 4; ++k) search.at[k] = (code[k] - kLow) * kSteps;
  search.range(0, tree.size(), 0);
}

}  // namespace ng::catalog
