// measure/trail_lines.h - straight lines in a binned frame: where a trail might be.
#pragma once

#include "math/line_sums.h"
#include "measure/trail_bins.h"

namespace ng::measure {

// A line through two points, in pixels of the frame.
struct Course {
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;
  double snr = 0;  // of the sum along it
};

// The line with the highest ratio of sum to noise; snr 0 when there is none of 30 bins. `sums` lends its memory.
[[nodiscard]] Course strongest_line(const TrailBins& bins, math::LineSums& sums);

}  // namespace ng::measure
