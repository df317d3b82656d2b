// reduce/stack/slope.h - how steep a picture is, pixel by pixel: what errors of place and of seeing make of it.
#pragma once

#include "base/image.h"

namespace ng::reduce {

// Steepest of the central differences through each pixel of row y, per pixel; 0 where a neighbour is NaN. `out` has
// picture.width values.
void slope_row(View<const float> picture, int y, float* out);

}  // namespace ng::reduce
