// measure/trail_bins.h - a frame in bins, without what belongs to stars and what is wider than a few bins: trails are
// looked for in it.
#pragma once

#include <cstdint>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "measure/half_size.h"

namespace ng::measure {

struct TrailBins {
  int size = 8;  // pixels of a side
  // In units of their noise (math/counted.h); none where too few pixels are usable. The longer side has at most
  // math::kMostCounted.
  Image<std::int32_t> light;

  // Pixel at the middle of a bin.
  [[nodiscard]] double pixel(double place) const { return (place + 0.5) * size - 0.5; }
};

inline constexpr int kLeastTrailBin = 6;

// The frame less its sky, without the masked pixels, freed of what is wider than a few bins. The mask is of half size
// as well. Errors: kCancelled.
[[nodiscard]] Result<TrailBins> trail_bins(const HalfSize& half, View<const std::uint8_t> mask, const Context& ctx);

}  // namespace ng::measure
