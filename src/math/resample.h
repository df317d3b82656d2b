// math/resample.h - Lanczos-3 resampling of a frame on another grid, some output rows at a time.
//
// For every output pixel the map gives a place in the source; the value there is interpolated from 6 x 6 source pixels
// (lanczos.h). Surface brightness is kept; with `flux_scale` = the area of an output pixel in source pixels (the
// Jacobian), flux is. Overshoot is clamped: where the result leaves the range of the 4 x 4 pixels around it by more
// than `guard` and `overshoot` times that range, it is set to that limit. Bright undersampled stars and hot pixels
// would otherwise carry dark rings; pure noise of standard deviation guard / 3 is practically never touched.
//
// Where output rows run along source rows (a slope below 1/128), each of the six columns is interpolated where the
// output row crosses it, then the six values along the row: for a band-limited picture the same value, for less than
// half of the work. The kernel leans with the row, by 0.02 px at most.
//
// Beside the value comes the sum of squared kernel weights: variance of the result over flux_scale^2 times the variance
// of one source pixel, for independent source pixels.
#pragma once

#include <cstdint>

#include "base/image.h"
#include "math/lanczos.h"
#include "math/plane_map.h"

namespace ng::math {

struct ResampleOptions {
  float flux_scale = 1;
  float guard = 0;         // absolute, in units of the image; 3 sigma of the source noise is right
  float overshoot = 0.3f;  // share of the local range that a peak between two pixels may rise above both; a Gaussian of
                           // FWHM 2 px needs 0.3
};

// A band of the source: rows y0 ... y0 + pixels.height - 1 of the frame.
struct SourceBand {
  View<const float> pixels;      // no NaN; defects already bridged
  View<const std::uint8_t> bad;  // same shape, nonzero = value is not a measurement; may be empty
  int y0 = 0;
};

// Fills `out` and `kernel_squares` for output rows out_y0 ... out_y0 + out.height - 1. Output pixels whose kernel
// leaves the source, or one of whose four nearest source pixels is bad, are NaN (and 0 in kernel_squares). The band
// must hold every source row that source_rows_needed() names, or the affected pixels are NaN too. Output rows must be
// writable up to the next multiple of 16 values: rows of an ng::Image are. A pixel's value does not depend on the band.
void resample_rows(const SourceBand& source, const PlaneMap& output_to_source, int out_y0, View<float> out,
                   View<float> kernel_squares, const ResampleOptions& options, const LanczosPolynomials& polynomials);

// First row and number of rows of a source of the given size that a band of output rows can touch (empty = none).
struct RowRange {
  int y0 = 0;
  int count = 0;
};
[[nodiscard]] RowRange source_rows_needed(const PlaneMap& output_to_source, int out_y0, int out_rows, int out_width,
                                          int source_width, int source_height);

}  // namespace ng::math
