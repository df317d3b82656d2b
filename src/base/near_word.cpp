#include "base/near_word.h"

#include <algorithm>
#include <cctype>
#include <vector>

namespace ng {
namespace {

char lower(char c) {
  return static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
}

bool begins_with(std::string_view whole, std::string_view part) {
  return whole.size() >= part.size() &&
         std::equal(part.begin(), part.end(), whole.begin(), [](char a, char b) { return lower(a) == lower(b); });
}

}  // namespace

std::size_t word_distance(std::string_view a, std::string_view b) {
  const std::size_t columns = b.size() + 1;
  std::vector<std::size_t> before(columns), last(columns), row(columns);
  for (std::size_t j = 0; j < columns; ++j) last[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    row[0] = i;
    for (std::size_t j = 1; j < columns; ++j) {
      const bool same = lower(a[i - 1]) == lower(b[j - 1]);
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + (same ? 0 : 1)});
      const bool swapped = i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) && lower(a[i - 2]) == lower(b[j - 1]);
      if (swapped) row[j] = std::min(row[j], before[j - 2] + 1);
    }
    std::swap(before, last);
    std::swap(last, row);
  }
  return last[b.size()];
}

std::optional<std::string> near_word(std::string_view word, std::span<const std::string> known) {
  std::optional<std::string> nearest;
  std::size_t least = 0;
  for (const std::string& candidate : known) {
    const bool begun = word.size() >= 3 && begins_with(candidate, word);
    const std::size_t distance = begun ? 1 : word_distance(word, candidate);
    if (3 * distance > std::max(word.size(), candidate.size())) continue;
    if (nearest && distance >= least) continue;
    nearest = candidate;
    least = distance;
  }
  return nearest;
}

}  // namespace ng
