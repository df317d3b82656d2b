// finish/crop.h - the part of the field that enough frames have seen.
//
// Dithers, a meridian flip and a turned camera leave borders where few frames overlap: noisier, with steps. The picture
// is the largest upright rectangle in which the coverage stays above a share of the full one, for every master. Islands
// of low coverage inside (values rejected around a bright star, a cluster of defects) do not count.
#pragma once

#include <cstdint>

#include "base/image.h"

namespace ng::finish {

struct CropOptions {
  double min_coverage_share = 0.6;  // of the full coverage; noise at the border then rises by up to 1/sqrt(0.6)
  int block_px = 8;                 // the rectangle's grain
  int forgiven_blocks = 100;        // largest island of bad blocks, away from the border, that is bridged as well
  double min_good_share = 0.6;  // of the pixels of a block: defects and rejected values are bridged, not cropped away
};

// Coverage as the share of the full one (the median of the pixels seen at all: in a mosaic of panels, that of a panel,
// not of their overlaps); 0 where there is none. `common` keeps the smaller of itself and that share: begin with 1,
// call once per master.
void fold_coverage(View<const float> coverage, View<float> common);

// Largest rectangle by area, in pixels; empty when no block is good. Ties: the topmost, then the leftmost.
[[nodiscard]] Region common_region(View<const float> common, const CropOptions& options);

// Largest rectangle of nonzero cells (histogram and stack, linear time; common practice, no source).
[[nodiscard]] Region largest_rectangle(View<const std::uint8_t> good);

}  // namespace ng::finish
