// math/best_line.h - where sums of different length stand out most.
#pragma once

#include <cstdint>
#include <span>

namespace ng::math {

struct Best {
  int at = -1;  // none
  double snr = 0;
};

// The highest sum / sqrt(count) of sums of counted values (math/counted.h) with at least `least` terms, the first of
// equals, if it is higher than `than`; the noise of one term is 1.
[[nodiscard]] Best best_line(std::span<const std::int32_t> sums, int least, double than);

}  // namespace ng::math
