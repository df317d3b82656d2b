// reduce/single/variance.h - the noise of a calibrated light, predicted from what calibrated it.
//
// One pixel of the raw light has the variance of its own electrons and of the zero level's temporal noise (read noise,
// dark current, rounding; from pairs of darks or bias). Calibration multiplies both by the flat's gain and adds the
// noise of the masters (method, section 1):
//
//   variance = flat_gain x level + flat_gain^2 x zero_variance x (1 + 1 / zero_frames) + level^2 x flat_variance
//
// with `level` the calibrated background in electrons.
#pragma once

#include "base/image.h"
#include "frame/background_map.h"
#include "reduce/single/calibrate.h"

namespace ng::reduce {

struct CalibrationNoise {
  double zero_variance_e2 = 0;  // of one frame
  int zero_frames = 0;          // 0: unknown, nothing can be predicted
  double flat_variance = 0;     // of the normalised master flat, relative
};

// Electrons squared, per box of `background`.
[[nodiscard]] Image<float> predicted_variance(const BackgroundMap& background, const Calibration& calibration,
                                              const CalibrationNoise& noise);

}  // namespace ng::reduce
