// reduce/single/calibrate.h - from stored numbers to electrons: zero level off, flat in, gain applied.
//
// electrons = (ADU - zero) x electrons_per_adu x flat_gain. `zero` is the master dark (which holds the bias) or the
// master bias, in ADU; without either, a constant. `flat_gain` is 1 / normalised flat.
#pragma once

#include <cstdint>

#include "base/image.h"

namespace ng::reduce {

struct Calibration {
  View<const float> zero;       // may be empty
  float zero_level = 0;         // ADU; used where `zero` is empty
  View<const float> flat_gain;  // may be empty; NaN where the flat is useless
  float electrons_per_adu = 1;
  View<const std::uint8_t> defects;  // nonzero = hot, cold or dead; may be empty
};

// In place; `rows` are rows y0 ... of the frame, all columns. `bad`, of the same shape or empty, goes out 1 where the
// value is no measurement: a defect, or no finite number; else 0.
void calibrate_rows(const Calibration& calibration, int y0, View<float> rows, View<std::uint8_t> bad);

}  // namespace ng::reduce
