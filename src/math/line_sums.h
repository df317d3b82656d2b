// math/line_sums.h - sums along all straight lines of a picture at once: the fast discrete Radon transform.
//
// Goetz & Druck 1996 (Pattern Recognition 29, 711) and Brady 1998 (SIAM J. Comput. 27, 107), both from memory: strips
// of 2^k columns are joined two by two, so that N columns take N^2 log N additions instead of N^3. The digital lines
// stay within about log2(N) / 6 pixels of the straight ones. For trails of satellites see Nir, Zackay & Ofek 2018, AJ
// 156, 229.
#pragma once

#include "base/image.h"

namespace ng::math {

// Lines that cross the columns from left to right and rise by 0 ... N - 1 rows on the way, N being the width rounded up
// to a power of two (further columns count as 0). Row `rise` of the result, value y + N: the line from (0, y) to (N -
// 1, y + rise), -N <= y < height. Other directions: turn the picture.
[[nodiscard]] Image<float> line_sums(View<const float> image);

}  // namespace ng::math
