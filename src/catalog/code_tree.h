// catalog/code_tree.h - a k-d tree of star patterns that lies in a file as it lies in memory.
//
// The tree has no pointers: the middle entry of a range is its node, what stands before it lies below in the node's
// coordinate, what stands behind it above; coordinates take turns with the depth (Bentley 1975, CACM 18, 509). So it is
// built by sorting in place, and a mapped file is searched without reading it first: a library that builds its tree in
// memory would take seconds for millions of patterns before the first question.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "catalog/star_code.h"

namespace ng::catalog {

// Code coordinates as 16 bits: -0.9 ... 1.1 (no code lies outside) in steps of 3.1e-5.
struct Pattern {
  std::array<std::uint16_t, 4> code{};
  std::array<std::uint32_t, 4> star{};  // A, B, C, D
};
static_assert(sizeof(Pattern) == 24);

[[nodiscard]] std::array<std::uint16_t, 4> packed_code(const StarCode& code);

// Brings patterns into the order of the tree.
void sort_into_tree(std::span<Pattern> patterns);
// Appends the index of every pattern whose code lies within `radius` (Euclidean) of the given one.
void find_near(std::span<const Pattern> tree, const StarCode& code, double radius, std::vector<std::uint32_t>& found);

}  // namespace ng::catalog
