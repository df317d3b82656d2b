// measure/half_size.h - the frame at half its size: a quarter of the work wherever every pixel's own place does not
// matter, to see the brightest stars and trails.
//
// Pixel (x, y) is the mean of the four pixels (2x ... 2x + 1, 2y ... 2y + 1) of the frame, NaN if one of them is, less
// the sky and in units of the noise that such a mean of independent pixels has; where they are not, the same
// `noise_correlation` (MeasureOptions) holds for it as for them. An odd last column or row is left out.
#pragma once

#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/background_map.h"
#include "measure/detect.h"

namespace ng::measure {

using HalfSize = Image<float>;

// The boxes of the background must have an even side. Errors: kCancelled.
[[nodiscard]] Result<HalfSize> half_size(View<const float> image, const BackgroundMap& background, const Context& ctx);

// Options for the half size, from those for the frame.
[[nodiscard]] DetectOptions at_half_size(DetectOptions options, const BackgroundMap& background);

// In pixels of the frame, from what was found at half size. The first `exact` of the detections go to the
// highest pixel around their place.
[[nodiscard]] std::vector<Detection> at_full_size(std::vector<Detection> detections, View<const float> image,
                                                  std::size_t exact);

}  // namespace ng::measure
