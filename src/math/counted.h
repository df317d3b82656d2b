// math/counted.h - a value and whether there is one, in one whole number: one sum then tells both sums.
//
// The low bits count, the others hold the value in steps of 1/32. For values in units of their own noise such a step
// adds 4e-5 of it: 1 / (32 sqrt(12)) in quadrature. 2048 values of 6 fill three quarters of the 31 bits.
#pragma once

#include <cmath>
#include <cstdint>

namespace ng::math {

inline constexpr int kCountBits = 12;
inline constexpr std::int32_t kCountMask = (1 << kCountBits) - 1;
inline constexpr float kCountedSteps = 32;
inline constexpr float kMostCountedValue = 6;  // either sign
inline constexpr int kMostCounted = 2048;      // terms of a sum
static_assert(kMostCounted <= kCountMask);
static_assert(kMostCounted * (static_cast<std::int64_t>(kMostCountedValue * kCountedSteps) << kCountBits) +
                  kMostCounted <=
              INT32_MAX);

// What there is none of is 0.
[[nodiscard]] inline std::int32_t counted(float value) {
  return static_cast<std::int32_t>(std::lrint(value * kCountedSteps)) * (1 << kCountBits) + 1;
}
// Counts as before, its value 0.
[[nodiscard]] inline std::int32_t without_value(std::int32_t c) {
  return c & kCountMask;
}

// Of one or of a sum. The shift rounds down: what the count adds is gone whatever the sign.
[[nodiscard]] inline int count_of(std::int32_t c) {
  return c & kCountMask;
}
[[nodiscard]] inline float value_of(std::int32_t c) {
  return static_cast<float>(c >> kCountBits) / kCountedSteps;
}

}  // namespace ng::math
