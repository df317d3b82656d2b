// reduce/stack/strip_slot.h - a frame on the strip of master rows that a row of tiles covers.
#pragma once

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "math/lanczos.h"
#include "reduce/stack/integrate.h"
#include "reduce/stack/light_on_master.h"

namespace ng::reduce {

struct StripFrame {
  const StackFrame& frame;
  const VarianceMeshes& variances;
  const Region& reach;  // frame_reach.h
};

// From column rows.x0 of the master on. Used for one frame after the other.
struct StripSlot {
  LightRows rows;
  Image<float> information;  // 1 / variance of each value's neighbourhood
  Image<float> fade;         // towards the frame's border; empty where frames do not fade

  // The strip's first rows: master rows top ... top + count - 1. Errors: those of reading.
  [[nodiscard]] Result<void> fill(const StripFrame& f, int top, int count, const StackOptions& options,
                                  const math::LanczosPolynomials& lanczos, const Context& ctx);
};

}  // namespace ng::reduce
