// reduce/stack/drops.h - pixels of a frame fall on an output grid as shrunken squares (drizzle).
//
// Fruchter & Hook 2002, PASP 114, 144, section 2: each input pixel is shrunk to a square of side `pixfrac` about its
// centre and mapped onto the output grid; there it is averaged into each output pixel with the weight a w, a being the
// area that the two share in units of output pixels, w the weight of the frame, falling towards its border where panels
// hand over to each other (feather.h). Under a mosaic every pixel goes to the plane of its own colour alone.
//
// Dithers heap drops up in some places and leave others thin. As every output pixel divides by the weight that it got,
// pixels of a frame that fell into a heap would count for less than others, and their light be lost in part. So each
// drop weighs more by the factor area / (sum of min(a / W, 1 / w)) over the output pixels that it shares, W being the
// weights that they get without it: one step of the balancing of rows and columns of a matrix (Sinkhorn & Knopp 1967,
// Pacific J. Math. 21, 343, from memory). What is lost of the depth falls to about a third, to more where drops are
// small and few (drops_test.cpp); kernels and fluxes stay, as every output pixel is a weighted mean before and after.
// W is that of upright squares, the drops are cut exactly; of the exact W no pixel could get more than 1 / w.
//
// The sums of an output pixel are taken in the order of the frames, and within a frame of its rows and columns: the
// bits do not depend on how the output is cut into strips.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "base/image.h"
#include "frame/bayer.h"
#include "math/plane_map.h"
#include "reduce/stack/feather.h"

namespace ng::reduce {

struct DropFrame {
  int width = 0, height = 0;  // of the frame
  math::PlaneMap to_output;
  double pixfrac = 1;                 // side of a drop, in pixels of the frame
  std::optional<BayerPattern> bayer;  // planes follow the pattern; else plane p of the values goes to plane p
  std::array<double, 3> weight{1, 1, 1};
  std::array<double, 3> variance{1, 1, 1};  // of one value on bare sky, the usual one, on the scale of the values
  Feather feather;                          // width 0: the weight is the same everywhere
  int panel = 0;                            // of a mosaic, as in StackFrame
  bool half = false;                        // its drops are summed apart, too
  float coverage = 1;  // what the frame adds to COVERAGE on average over the output pixels: exposure in seconds
};

// Rows y0 ... of a frame, ready to fall; planes as the frame has them (1 under a mosaic).
struct DropRows {
  int y0 = 0;
  Image<float> value;
  Image<float> variance;  // of the value; 0 = no measurement, negative = left out as an outlier
};

struct DropSum {
  double value = 0;    // sum of a w y
  double weight = 0;   // sum of a w
  float variance = 0;  // sum of (a w)^2 u
  float coverage = 0;  // sum of coverage x a over its average
  float rejected = 0;  // outliers, in frames: sum of a over its average
  // The first three once more, of half of the frames: what the halves differ by is noise.
  float half_variance = 0;
  double half_value = 0;
  double half_weight = 0;
};

// What the output pixels would get without balancing, sum of a w: rows y0 ..., all columns from x0 on.
struct PlainWeights {
  int x0 = 0, y0 = 0;
  std::array<View<float>, 3> sums;  // per plane, of one shape
};

// A window of the output: rows y0 ..., all columns from x0 on.
struct DropWindow {
  int x0 = 0, y0 = 0;
  std::array<View<DropSum>, 3> sums;  // per plane, of one shape
};

// Adds the drops of frame rows first ... first + count - 1 that fall into the window. `rows` must hold those rows. With
// plain weights, which must reach drop_height() rows beyond the window where the output does, the drops are balanced.
void add_drops(const DropFrame& frame, const DropRows& rows, int first, int count, const DropWindow& window,
               const PlainWeights* plain = nullptr);
// Adds the plain weights of all those drops, whatever their values are: near enough, of squares that do not turn.
void add_plain_weights(const DropFrame& frame, int planes, int first, int count, const PlainWeights& plain);

// Rows of the output that no drop of the frame exceeds.
[[nodiscard]] int drop_height(const DropFrame& frame);

// First row and number of rows of the frame whose drops can reach output rows y0 ... y0 + rows - 1 (0 = none).
struct FrameRows {
  int y0 = 0, count = 0;
};
[[nodiscard]] FrameRows rows_reaching(const DropFrame& frame, int x0, int y0, int columns, int rows);

// Share of a frame's pixels that fall on a plane.
[[nodiscard]] double plane_density(const std::optional<BayerPattern>& bayer, int plane);

}  // namespace ng::reduce
