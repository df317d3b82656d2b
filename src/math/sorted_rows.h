// math/sorted_rows.h - order statistics of N values of one pixel, for all pixels of a row at once.
//
// rows[j] is frame j's row; NaN = no measurement. Every row, in or out, must be accessible up to the next multiple of
// kRowPadding values: rows of an ng::Image are.
#pragma once

#include <span>

namespace ng::math {

inline constexpr int kRowPadding = 16;

// Median of the valid values of each pixel; NaN where there is none. Exact for any number of rows.
void median_rows(std::span<const float* const> rows, int width, float* out);

// Mean of N values of one pixel that share one noise, for master frames: rejects beyond kappa times the larger of
// `floor` and the robust scatter of the N values themselves (interquartile range / 1.349), so that a pixel that is
// noisy by nature keeps its values. NaN where no frame has a value.
void clipped_mean_rows(std::span<const float* const> rows, int width, float kappa, float floor, float* mean);

}  // namespace ng::math
