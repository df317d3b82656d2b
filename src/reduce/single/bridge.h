// reduce/single/bridge.h - something smooth in place of pixels that measured nothing.
#pragma once

#include <cstdint>

#include "base/image.h"

namespace ng::reduce {

// Replaces the marked pixels by the median of their unmarked neighbours of the same colour (the eight pixels `step`
// away: 1 for mono, 2 under a Bayer mosaic; wider, up to kBridgeReach steps, where all are marked; 0 where all of those
// are), so that interpolation has something smooth to work on. `bad`, of the same shape, is 1 there, else 0; what is no
// number must be marked. Of `rows` those from first to last - 1 are mended; the others are only looked at.
void bridge_bad_pixels(View<float> rows, View<const std::uint8_t> bad, int step, int first, int last);

inline constexpr int kBridgeReach = 4;

}  // namespace ng::reduce
