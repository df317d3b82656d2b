// math/combine.h - N values of one pixel become one, and the wild ones are left out.
//
// Works on rows: rows[j] is frame j's row of one output line, already on the common grid and scale; NaN = no
// measurement. Every row, in or out, must be accessible up to the next multiple of kRowPadding values: rows of an
// ng::Image are. The rule (method: combination; Gruen et al. 2014, PASP 126, 158 and the HST drizzle pipeline reject
// the same way, with predicted noise rather than the scatter of the few values themselves; both from memory):
//
//   c     median of the valid values, refined once by the mean of those kept
//   u_j   variance of value j at level c:  variance_j x (1 + signal_share_j x max(c - sky, 0))
//   out   |y_j - c| > kappa sqrt(u_j + u_c + (slope_allowance x slope)^2)
//   mean  weights of the frames: they must not follow the pixel's own value, or bright pixels would be biased
//
// `slope` is the local gradient of the picture, per pixel: small errors of registration and differences of seeing move
// the flank of a bright star far more than photon noise; without the allowance its core would be eaten. With one or two
// valid values nothing can be told apart and nothing is rejected.
//
// A cosmic ray or a hot pixel rarely ends at the pixels that stand out alone: around every hit the limit is lower
// (two limits, as the HST drizzle pipeline has them; from memory). combine_rows() marks the hits, near_hits() spreads
// the marks to the eight neighbours, and regrow_rows() does once more the few pixels that got one.
#pragma once

#include <cstdint>
#include <span>

#include "math/sorted_rows.h"

namespace ng::math {

struct CombineInput {
  const float* values = nullptr;    // row of `width` values
  const float* variance = nullptr;  // row: predicted variance of each value on bare sky, as it stands after resampling
  float signal_share = 0;           // by which a unit of signal above the sky adds to it
  float weight = 1;  // 1 / variance of a whole neighbourhood per master pixel: all that counts for the deepest mean
  const float* fade = nullptr;  // row: factors of the weight, where it falls towards a border; null = 1 everywhere
};

struct CombineOptions {
  float kappa = 4.5f;
  float slope_allowance = 0.3f;  // pixels
  float near_share = 0.55f;      // of kappa, for the neighbours of a hit
};

// One bit per pixel: bit k of word w is pixel 16 w + k.
using HitWord = std::uint16_t;
inline constexpr int kHitPixels = 16;

struct CombineOutput {
  float* mean = nullptr;                // NaN where no frame has a value
  float* variance = nullptr;            // of the mean; NaN where no frame has a value
  float* coverage = nullptr;            // sum of `coverage_of` over the kept frames
  float* rejected = nullptr;            // number of values left out
  std::span<HitWord* const> hits = {};  // per input, what was left out of it; empty = nobody asks
};

struct CombineCounts {
  double values = 0;  // valid ones that were offered
  double rejected = 0;
};

// `sky` (level of bare sky on the common scale) and `slope` hold `width` values; `coverage_of` one per input (exposure
// in seconds, or 1 to count frames).
CombineCounts combine_rows(std::span<const CombineInput> inputs, std::span<const float> coverage_of,
                           const float* median, const float* sky, const float* slope, int width,
                           const CombineOptions& options, const CombineOutput& out);

// Rows above, at and below (null beyond the border) of one input's hits: sets the bits of all pixels that touch one.
// Says whether there is any.
bool near_hits(const HitWord* above, const HitWord* row, const HitWord* below, int words, HitWord* near);

// Combines again, with the lower limit where `near` (one row per input) has a bit, every group of kHitPixels in which
// any input has one; the others keep what `out` holds. Returns how many more values were rejected.
double regrow_rows(std::span<const CombineInput> inputs, std::span<const float> coverage_of, const float* median,
                   const float* sky, const float* slope, int width, const CombineOptions& options,
                   std::span<const HitWord* const> near, const CombineOutput& out);

}  // namespace ng::math
