// reduce/stack/blot.h - which pixels of a frame the ordinary master cannot explain.
//
// The master is brought back into the frame's pixels (blotted) and each pixel compared with it, as Fruchter & Hook 2002
// (PASP 114, 144, section 6) do before they drizzle. With y the pixel on the scale of the master, c the blotted master,
// u the pixel's variance at that level, u_c the master's:
//
//   out   |y - c| > kappa sqrt(u + u_c + (slope_allowance x slope)^2)
//
// (the slope with what the seeing makes of stars, seeing_allowance.h; under a mosaic with a larger allowance, as the
// demosaiced master is a little wider than the truth of one colour), and at the eight neighbours of a hit with
// near_share x kappa, as in math/combine.h. Pixels that fewer than three frames see cannot be judged and stay; pixels
// where the master has no value are no measurement.
#pragma once

#include "base/context.h"
#include "base/result.h"
#include "reduce/stack/centre_rows.h"
#include "reduce/stack/drops.h"
#include "reduce/stack/integrate.h"

namespace ng::reduce {

struct Judged {
  DropRows rows;
  StackCounts counts;
};

// Rows of output pixels, by the height at which the centre of a frame's pixel falls on the output: only those are
// counted, so that no pixel is counted in two bands.
struct CountBand {
  double top = 0, bottom = 0;  // of the output, half-open
  double scale = 1;            // side of an output pixel in master pixels
};

// Rows of master around those where a pixel falls, that its judgement needs.
[[nodiscard]] int master_margin(const StackFrame& frame);

// Judges rows y0 ... y0 + count - 1 of the frame; values come out on the scale of the master, per master pixel. Pixels
// of which the centre does not hold all rows that it should are not valid; the caller drops none of them.
[[nodiscard]] Result<Judged> judge_rows(const StackFrame& frame, int y0, int count, const CentreRows& centre,
                                        int planes, const math::CombineOptions& options, const CountBand& band,
                                        const Context& ctx);

}  // namespace ng::reduce
