#include "reduce/stack/master_stretches.h"

#include <algorithm>

#include "reduce/stack/frame_reach.h"

namespace ng::reduce {

std::vector<MasterStretch> stretches_of(std::span<const Region> reaches, int top, int rows, int width) {
  std::vector<MasterStretch> stretches;
  for (int x0 = 0; x0 < width; x0 += kReachColumns) {
    const int block = std::min(kReachColumns, width - x0);
    std::vector<std::size_t> frames;
    for (std::size_t j = 0; j < reaches.size(); ++j) {
      const Region& r = reaches[j];
      if (meets_rows(r, top, rows) && r.x0 <= x0 && r.x0 + r.width >= x0 + block) frames.push_back(j);
    }
    if (!stretches.empty() && stretches.back().frames == frames) {
      stretches.back().width += block;
    } else {
      stretches.push_back({x0, block, std::move(frames)});
    }
  }
  return stretches;
}

int band_that_fits(std::span<const Region> reaches, int height, int least, int most, int spare,
                   std::size_t bytes_per_pixel, std::size_t bytes) {
  for (int band = most; band > least; --band) {
    std::size_t widest = 0;  // all frames that reach a band, side by side
    for (int y0 = 0; y0 < height; y0 += band) {
      std::size_t columns = 0;
      for (const Region& r : reaches)
        if (meets_rows(r, y0 - spare / 2, band + spare)) columns += static_cast<std::size_t>(r.width);
      widest = std::max(widest, columns);
    }
    if (widest * static_cast<std::size_t>(band + spare) * bytes_per_pixel <= bytes) return band;
  }
  return least;
}

}  // namespace ng::reduce
