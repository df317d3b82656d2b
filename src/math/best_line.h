// math/best_line.h - where sums of different length stand out most.
#pragma once

namespace ng::math {

struct Best {
  int at = -1;  // none
  double snr = 0;
};

// The highest sum / sqrt(count) of those with at least `least` terms, the first of equals; the noise of one term is 1.
[[nodiscard]] Best best_line(const float* sums, const float* counts, int n, float least);

}  // namespace ng::math
