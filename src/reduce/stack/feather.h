// reduce/stack/feather.h - frames that fade out towards their borders, so that a mosaic of panels shows no seams.
//
// The weight of a frame falls linearly over `width_px` of its own pixels towards its nearest border, from 1 to 0.02.
// Where panels overlap, the one hands over to the other; where a place is seen by one panel alone, all its frames fade
// alike and the mean is what it was.
#pragma once

#include <span>

#include "math/plane_map.h"

namespace ng::reduce {

struct Feather {
  double width_px = 0;  // 0: weights do not fall
  int frame_width = 0, frame_height = 0;
};

// Factor of the weight at a place of the frame.
[[nodiscard]] float feather_at(const Feather& feather, math::Point in_frame);

// Factors for a row of the master, from column x0 on.
void feather_row(const Feather& feather, const math::PlaneMap& to_frame, int x0, int y, std::span<float> factors);

}  // namespace ng::reduce
