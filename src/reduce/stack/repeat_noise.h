// reduce/stack/repeat_noise.h - the noise of frames, from what they differ by.
//
// The scatter of one frame's sky is more than noise: faint stars that nobody sees one by one, and what dust and the
// sensor leave, look like it. They do not change between frames, or lie still while the field moves. Two frames of the
// same sky, on one grid, differ by noise alone.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "base/context.h"
#include "base/result.h"
#include "reduce/stack/integrate.h"

namespace ng::reduce {

// Per plane: noise of the frames over that which `frames` state, the median over at most 16 pairs; 1 where no pair
// shares enough sky to tell. Frames of one group are paired, the first half with the second, `groups` holding one
// number per frame (its panel). A few strips of each frame are read. Errors: those of reading, kCancelled.
[[nodiscard]] Result<std::array<double, 3>> repeat_noise(std::span<const StackFrame> frames,
                                                         std::span<const int> groups, const StackOptions& options,
                                                         const Context& ctx);

}  // namespace ng::reduce
