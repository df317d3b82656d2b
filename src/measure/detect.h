// measure/detect.h - finds what stands out of the sky: matched filter, threshold, separation of neighbours.
//
// Filter: a Gaussian of the width of the stars (the optimum for them in white noise; North 1943, Turin 1960). The
// result is in units of its own noise, so that one threshold holds everywhere. Separation: the filtered picture is
// flooded from its peaks downwards (basins.h); two peaks that meet stay two if the dip between them is deeper than the
// noise there allows by chance (the limit of infinitely many thresholds of the multi-threshold method, Beard,
// MacGillivray & Thanisch 1990, MNRAS 247, 311).
#pragma once

#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/background_map.h"

namespace ng::measure {

struct DetectOptions {
  double sigma_px = 1.5;            // width of the filter
  double threshold = 5.0;           // sigma of the filtered noise
  double noise_correlation = 1.0;   // see MeasureOptions
  double electrons_per_unit = 1.0;  // of the image, for photon noise in bright places; 0 = unknown
  double dip_sigma = 3.0;           // depth of the dip that separates two stars
  double dip_share = 0.05;          // and at least this share of the lower peak
};

struct Detection {
  int x = 0, y = 0;        // highest filtered pixel
  float significance = 0;  // there, in sigma of the filtered noise
  int area_px = 0;         // pixels above the threshold that belong to it
};

// Brightest first. NaN pixels count as sky. Without a background, the image is one of sky 0 and noise 1 (half_size.h).
// Errors: kCancelled.
[[nodiscard]] Result<std::vector<Detection>> detect(View<const float> image, const BackgroundMap* background,
                                                    const DetectOptions& options, const Context& ctx);

}  // namespace ng::measure
