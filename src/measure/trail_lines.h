// measure/trail_lines.h - straight lines in a binned frame: where a trail might be. All places are pixels of the frame.
#pragma once

#include <array>
#include <cstdint>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "measure/half_size.h"

namespace ng::measure {

// A frame in bins, in units of their noise; `valid` is 1 where enough usable pixels lie, else 0 and the value too.
struct TrailBins {
  int size = 8;  // pixels of a side
  Image<float> value, valid;

  // Pixel at the middle of a bin.
  [[nodiscard]] double pixel(double place) const { return (place + 0.5) * size - 0.5; }
};

inline constexpr int kLeastTrailBin = 6;

// The frame less its sky, without the masked pixels, freed of what is wider than a few bins. The mask is of half size
// as well. Errors: kCancelled.
[[nodiscard]] Result<TrailBins> trail_bins(const HalfSize& half, View<const std::uint8_t> mask, const Context& ctx);

// A line through two points, in pixels of the frame.
struct Course {
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;
  double snr = 0;  // of the sum along it
};

// Lines of a binned frame. The number of bins of each line is told once, of the bins as they are at the beginning: what
// is taken out later makes a line through it count for a little less than it is worth.
class LineSearch {
 public:
  explicit LineSearch(const TrailBins& bins);
  // The line with the highest ratio of sum to noise; snr 0 when there is none of 30 bins.
  [[nodiscard]] Course strongest(const TrailBins& bins) const;

 private:
  std::array<Image<float>, 4> counts_;  // by direction
};

}  // namespace ng::measure
