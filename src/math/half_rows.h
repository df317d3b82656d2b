// math/half_rows.h - two rows of pixels into one of half their width.
#pragma once

namespace ng::math {

// out[x] = mean of the four values 2x and 2x + 1 of both rows, for x < width; NaN if one of them is.
void half_rows(const float* upper, const float* lower, int width, float* out);

}  // namespace ng::math
