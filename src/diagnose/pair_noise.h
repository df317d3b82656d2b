// diagnose/pair_noise.h - temporal noise from two frames of the same scene: fixed pattern cancels in their difference.
//
// EMVA Standard 1288, release 4.0 linear, section 2: the variance of one frame is half the mean square of the
// difference, less half the square of its mean. Departures, for lights that a person has at home:
//   - lit frames are scaled to each other by the ratio r of their levels (the lamp changes between them):
//     variance = <(a - r b)^2> / (1 + r^2), which belongs to the signal b r (1 + r) / (1 + r^2);
//   - where rows differ among each other (a flickering lamp under a rolling shutter) each row has its own ratio;
//   - pixels whose difference is beyond 6 standard deviations (cosmic rays, telegraph noise) are left out.
// Frames in stored ADU. A frame of a mosaic has four cells, (x mod 2) + 2 (y mod 2), a mono frame one.
#pragma once

#include <cstdint>
#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"

namespace ng::diagnose {

struct CellNoise {
  double level_adu = 0;      // mean of both frames, zero level off
  double signal_adu = 0;     // to which the variance belongs, zero level off
  double variance_adu2 = 0;  // temporal, of one frame
  double ratio = 1;          // of the levels, first over second; 1 for dark frames
  double flicker = 0;        // rms of the ratio from row to row beyond its own noise
  std::int64_t pixels = 0;   // that were used
  // The same in the middle ninth of the frame, where light is most even.
  double centre_adu = 0, centre_variance_adu2 = 0;
};

struct PairOptions {
  bool lit = false;
  bool mosaic = false;
  std::vector<double> zero_adu;  // of each cell; empty: 0
};

// Errors: kNoMatch (two sizes), kTooFew (no pixels), kCancelled.
[[nodiscard]] Result<std::vector<CellNoise>> pair_noise(View<const float> a, View<const float> b,
                                                        const PairOptions& options, const Context& ctx);

// Smallest distance between two stored values, among many pixels: 16 where a camera stores 12 bits in 16. At least 1.
[[nodiscard]] int value_step(View<const float> frame);

}  // namespace ng::diagnose
