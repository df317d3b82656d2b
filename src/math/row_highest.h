// math/row_highest.h - the highest value of a row.
#pragma once

namespace ng::math {

// Not below 0; a NaN is no value.
[[nodiscard]] float row_highest(const float* row, int width);

}  // namespace ng::math
