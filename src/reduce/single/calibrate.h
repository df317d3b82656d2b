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

// In place; `rows` are rows y0 ... of the frame, all columns.
void calibrate_rows(const Calibration& calibration, int y0, View<float> rows);

// Replaces the marked pixels, and NaN, by the median of their valid neighbours of the same colour (the eight pixels
// `step` away: 1 for mono, 2 under a Bayer mosaic; wider where none is valid), so that interpolation has something
// smooth to work on. `bad`, of the same shape, comes in marking defects and goes out marking every pixel whose value is
// no measurement.
void bridge_bad_pixels(View<float> rows, View<std::uint8_t> bad, int step);

}  // namespace ng::reduce
