// reduce/stack/frame_reach.h - the part of the master that a frame reaches: beyond it the frame costs nothing.
#pragma once

#include "base/image.h"
#include "reduce/stack/integrate.h"

namespace ng::reduce {

// Columns are shared out in blocks of so many: a frame has all of a block or nothing. A multiple of what vectors and
// words of hits hold (math/combine.h).
inline constexpr int kReachColumns = 128;

// Holds every master pixel that can get a value of the frame; whole blocks of columns, the last one ends with the
// master. Empty where the frame lies outside.
[[nodiscard]] Region reach_on_master(const StackFrame& frame, int width, int height);

}  // namespace ng::reduce
