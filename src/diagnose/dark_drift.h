// diagnose/dark_drift.h - whether two sets of darks of one exposure and temperature still show the same sensor, and
// whether darks of one exposure may be scaled to another.
#pragma once

#include <cstdint>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "diagnose/frame_stack.h"
#include "diagnose/measured.h"

namespace ng::diagnose {

struct DarkDrift {
  Measured level_adu;      // new less old, of the usual pixel: median over blocks
  double scatter_adu = 0;  // of one dark of the new set, temporal, single pixel
  std::int64_t hot_old = 0, hot_new = 0;
  std::int64_t hot_changed = 0;  // hot in one of the sets alone, beyond noise
  bool drifted = false;          // the level by more than noise and than a tenth of the scatter, or a tenth of the hot
};
// Two stacks of two frames each at least. A pixel is hot above the median of its set by 12 robust standard deviations
// of the pixels, as the calibration of lights maps them. Errors: kTooFew, kNoMatch, kCancelled.
[[nodiscard]] Result<DarkDrift> dark_drift(const FrameStack& old_set, const FrameStack& new_set, const Context& ctx);

struct DarkScaling {
  double expected = 0;  // ratio of the exposures, short over long
  Measured usual, hot;  // ratio of the signals above the bias: usual pixels; hot ones
  bool valid = false;   // both within 5 % of that, and known to 5 %
};
// Errors: kTooFew (no hot pixels, no dark signal to compare), kNoMatch, kCancelled.
[[nodiscard]] Result<DarkScaling> dark_scaling(const FrameStack& bias, const FrameStack& short_set, double short_s,
                                               const FrameStack& long_set, double long_s, const Context& ctx);

}  // namespace ng::diagnose
