// math/line_sums.h - sums along all straight lines of a picture at once: the fast discrete Radon transform.
//
// Goetz & Druck 1996 (Pattern Recognition 29, 711) and Brady 1998 (SIAM J. Comput. 27, 107), both from memory: strips
// of 2^k columns are joined two by two, so that N columns take N^2 log N additions instead of N^3. The digital lines
// stay within about log2(N) / 6 pixels of the straight ones. For trails of satellites see Nir, Zackay & Ofek 2018, AJ
// 156, 229.
#pragma once

#include <cstdint>
#include <functional>
#include <span>

#include "base/image.h"

namespace ng::math {

// N: the width rounded up to a power of two.
[[nodiscard]] int summed_columns(int width);

// Keeps its memory from picture to picture: new pages would cost as much as the sums.
class LineSums {
 public:
  // sums[y + rise]: the line from (0, y) to (N - 1, y + rise), -rise <= y < height. Those that begin elsewhere meet no
  // pixel.
  using Lines = std::function<void(int rise, std::span<const std::int32_t> sums)>;

  // Lines that cross the columns from left to right and rise by 0 ... N - 1 rows on the way (columns beyond the
  // width count as 0); `lines` is called rise by rise. Row x of `columns` is column x of the picture. Other directions:
  // turn the picture; a view from the last row to the first, with a negative stride, does as well.
  void add_up(View<const std::int32_t> columns, const Lines& lines);

 private:
  Image<std::int32_t> memory_;
};

}  // namespace ng::math
