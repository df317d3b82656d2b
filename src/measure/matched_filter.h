// measure/matched_filter.h - significance of a star at every pixel: Gaussian correlation over its own noise.
#pragma once

#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/background_map.h"

namespace ng::measure {

// Weights of a sampled Gaussian from -radius to +radius, sum 1, radius = 3 sigma rounded up.
[[nodiscard]] std::vector<float> gaussian_taps(double sigma_px);

// (image - background) / noise, correlated with the Gaussian, divided by the noise that white noise would have after
// it.
[[nodiscard]] Result<Image<float>> significance_map(View<const float> image, const BackgroundMap& background,
                                                    double sigma_px, const Context& ctx);

}  // namespace ng::measure
