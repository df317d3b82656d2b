// reduce/stack/drizzle.h - dithered frames on a grid as fine as they deserve, without interpolation.
//
// Variable-pixel linear reconstruction: Fruchter & Hook 2002, PASP 114, 144. Pixels are shrunk to `pixfrac`, mapped and
// averaged by shared area (drops.h); frames of a mosaic give each colour its own pixels alone, and nothing is guessed
// between them. Outliers are masked first, pixel by pixel of each frame, by the ordinary master of the same frames
// (blot.h): it is integrated on the way, and only the few rows of it that are needed are kept. Nothing is written to
// disk; the bits are the same for any number of threads and any budget.
//
// Units: a value is electrons per output pixel on the scale of the reference, sky included: surface brightness times
// the area of the output pixel. The weights are those of the frames, from their sky, never from a pixel's own value.
// Where panels meet, drops weigh less towards the borders of their frames, as StackOptions::feather_px says.
// Drops are balanced (drops.h), so that every pixel of a frame counts the same.
// VARIANCE is that of single pixels, sum of (a w)^2 u / (sum of a w)^2; neighbours share drops, so that the noise of a
// wide area is noise_correlation() times what independent pixels would have. The noise that is told beside it comes
// from what the halves of the frames differ by, as in noise_curve.h. COVERAGE is exposure, as much of it as reached the
// pixel; REJECTED counts frames, a share of one for a drop that only touches.
#pragma once

#include <functional>
#include <span>

#include "reduce/stack/drops.h"
#include "reduce/stack/integrate.h"

namespace ng::reduce {

struct DrizzleOptions {
  StackOptions stack;  // of the ordinary master, which judges; its combine options are those of the judgement too
  double pixfrac = 1;  // 0 < pixfrac <= 1, side of a drop in pixels of its frame
  double scale = 1;    // side of an output pixel in pixels of the ordinary master
};

// Side of the output for a side of the ordinary master: pixel (0, 0) shares its outer corner with the master's.
[[nodiscard]] int drizzled_size(int master_size, double scale);

// Master pixels to output pixels.
[[nodiscard]] math::PlaneMap to_drizzled(double scale);

// R of Fruchter & Hook 2002, section 7 (equations 9 and 10, from memory, derived again in drizzle_test.cpp): noise of a
// wide area over what the noise of single output pixels suggests, for many evenly spread dithers. With
// r = pixfrac / scale (both in one unit): 1 / (1 - r / 3) for r <= 1, r / (1 - 1 / (3 r)) for r >= 1.
[[nodiscard]] double noise_correlation(double pixfrac, double scale);

// How a frame falls on the output.
[[nodiscard]] DropFrame drop_frame(const StackFrame& frame, const DrizzleOptions& options);

// As integrate(), but the bands are those of the output.
[[nodiscard]] Result<StackCounts> drizzle(std::span<const StackFrame> frames, const DrizzleOptions& options,
                                          const std::function<Result<void>(const StackBand&)>& deliver,
                                          const Context& ctx);

}  // namespace ng::reduce
