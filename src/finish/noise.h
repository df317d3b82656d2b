// finish/noise.h - gentle noise reduction that knows, pixel by pixel, how large the noise is.
//
// The image is taken apart into starlet scales (starlet.h). A coefficient w whose neighbourhood carries no more energy
// than noise would is shrunk by the positive-part James-Stein rule,
//     w' = w max(0, 1 - (k n_j sigma)^2 / mean of w^2 over 3 x 3),
// as in Cai & Silverman 2001 (Sankhya B 63, 127), with sigma(x, y) from the variance map and n_j the response of scale
// j. Departures: n_j is measured on the darker half of the image instead of taken for white noise, because resampling
// correlates neighbouring pixels; and what is taken away fades with the local signal-to-noise ratio,
//     1 - (snr / snr_limit)^2,  snr = the next smoothing / sigma,
// and is exactly nothing above the limit: bright stars and the bright nebula keep their bits.
#pragma once

#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"

namespace ng::finish {

struct NoiseOptions {
  double strength = 0.7;         // share of the shrinkage that is applied; 0 = none, 1 = all
  double threshold_sigma = 1.6;  // k; the mean of 9 squares of pure noise exceeds 1.6^2 = 2.6 rarely
  double snr_limit = 30;         // per pixel; above it nothing is touched
  int scales = 4;                // structures up to 2^scales pixels
};

// Memory that calls for images of one size may share; empty at first.
struct NoiseScratch {
  Image<float> fine, smooth, work, removed;
};

struct NoiseReport {
  std::vector<double> response;  // measured n_j, one per scale
};

// `image` has its sky at 0 (background removed) and no NaN; `variance` is that of each pixel. Errors: kCancelled.
[[nodiscard]] Result<NoiseReport> reduce_noise(View<float> image, View<const float> variance,
                                               const NoiseOptions& options, NoiseScratch& scratch, const Context& ctx);

}  // namespace ng::finish
