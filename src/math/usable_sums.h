// math/usable_sums.h - sums over rows, of what may be used.
#pragma once

#include <cstdint>

namespace ng::math {

// For every x < width where masked[x] is 0 and row[x] a number: sum[x] += row[x], held within +-clip; count[x] += 1.
void add_usable(const float* row, const std::uint8_t* masked, float clip, int width, float* sum, float* count);

}  // namespace ng::math
