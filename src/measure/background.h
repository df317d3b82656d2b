// measure/background.h - sky level and noise of a frame, box by box.
//
// Each box gives the robust level and scale of math::sky_level (stars and nebula only ever add light); boxes whose
// level stands out from their 3 x 3 neighbourhood, because a bright star or galaxy fills them, are replaced by its
// median. The noise is the empirical one of single pixels.
#pragma once

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/background_map.h"

namespace ng::measure {

struct BackgroundOptions {
  int box_px = 64;         // far larger than a star, smaller than the gradients and nebulae we follow
  double min_valid = 0.2;  // share of usable pixels below which a box takes its neighbours' values
};

// NaN pixels are left out. Errors: kTooFew (no usable pixel at all), kCancelled.
[[nodiscard]] Result<BackgroundMap> measure_background(View<const float> image, const BackgroundOptions& options,
                                                       const Context& ctx);

}  // namespace ng::measure
