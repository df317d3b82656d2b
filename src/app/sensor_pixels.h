// app/sensor_pixels.h - frames of a camera test read, and taken two by two.
#pragma once

#include <optional>
#include <vector>

#include "app/input_frames.h"
#include "diagnose/frame_stack.h"
#include "diagnose/pair_noise.h"

namespace ng::app {

struct SensorPixels {
  Image<float> image;
  View<const float> view;  // the useful part; of a mosaic it begins with the same colour as the frame
};
// Errors: kCorrupt, kIo.
[[nodiscard]] Result<SensorPixels> read_pixels(InputFrame& frame);

// Two frames of nearly one level, by index. Flats whose lamp was changed are sorted by level first.
using FramePair = std::pair<std::size_t, std::size_t>;
[[nodiscard]] Result<std::vector<FramePair>> pairs_of(std::vector<InputFrame>& frames,
                                                      const std::vector<std::size_t>& members, bool lit);

[[nodiscard]] Result<diagnose::FrameStack> stack_of(std::vector<InputFrame>& frames,
                                                    const std::vector<std::size_t>& members, const Context& ctx);

}  // namespace ng::app
