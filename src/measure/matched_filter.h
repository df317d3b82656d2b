// measure/matched_filter.h - significance of a star at every pixel: Gaussian correlation over its own noise.
#pragma once

#include <cstdint>
#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/background_map.h"

namespace ng::measure {

// Weights of a sampled Gaussian from -radius to +radius, sum 1, radius = 3 sigma rounded up.
[[nodiscard]] std::vector<float> gaussian_taps(double sigma_px);

// The few pixels of a picture that stand out, row by row, left to right; their values are positive.
struct BrightPixels {
  struct Pixel {
    std::int32_t x;
    float value;
  };
  std::vector<Pixel> pixels;
  std::vector<std::size_t> row_begin;  // height + 1 indices into pixels

  // The row that a pixel lies in.
  [[nodiscard]] int row_of(std::size_t pixel) const;
};

// (image - background) / noise, correlated with the Gaussian, in units of the noise that is left in it: those pixels
// that exceed the threshold. `noise_correlation` as in MeasureOptions. NaN pixels and the world outside the frame count
// as sky. Without a background the image has sky 0 and noise 1. Errors: kCancelled.
[[nodiscard]] Result<BrightPixels> significant_pixels(View<const float> image, const BackgroundMap* background,
                                                      double sigma_px, double noise_correlation, float threshold,
                                                      const Context& ctx);

}  // namespace ng::measure
