// reduce/stack/master_stretches.h - a band of the master in stretches of columns that the same frames reach.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "base/image.h"

namespace ng::reduce {

struct MasterStretch {
  int x0 = 0, width = 0;
  std::vector<std::size_t> frames;  // in their order
};

// From left to right, all columns; `reaches` of all frames (frame_reach.h), of which those count that reach rows
// top ... top + rows - 1.
[[nodiscard]] std::vector<MasterStretch> stretches_of(std::span<const Region> reaches, int top, int rows, int width);

[[nodiscard]] inline bool meets_rows(const Region& reach, int top, int rows) {
  return !reach.empty() && reach.y0 < top + rows && reach.y0 + reach.height > top;
}

// The tallest band of `least` to `most` rows for which what the frames hold of it, `spare` rows more each, fits into
// `bytes`, at bytes_per_pixel; `least` if none does.
[[nodiscard]] int band_that_fits(std::span<const Region> reaches, int height, int least, int most, int spare,
                                 std::size_t bytes_per_pixel, std::size_t bytes);

}  // namespace ng::reduce
