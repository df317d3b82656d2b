// base/near_word.h - which known word was meant by a misspelt one.
//
// Distance: fewest insertions, deletions, replacements and swaps of neighbours (Damerau 1964, CACM 7, 171; the
// restricted form, in which no part is changed twice). Letters of either case are alike.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace ng {

[[nodiscard]] std::size_t word_distance(std::string_view a, std::string_view b);
// The nearest of `known`, if it is near enough to be meant: at most a third of the longer word's letters differ, or the
// word is the beginning of it. Of equals the first.
[[nodiscard]] std::optional<std::string> near_word(std::string_view word, std::span<const std::string> known);

}  // namespace ng
