// math/sampled.h - values of a large picture for its median and scatter.
#pragma once

#include <vector>

#include "base/image.h"

namespace ng::math {

// The finite ones among some 400,000 pixels that lie evenly over the picture, shifted from row to row so that no column
// counts alone.
[[nodiscard]] std::vector<float> sampled(View<const float> image);

}  // namespace ng::math
