// app/repeat_lights.h - the noise of lights that nothing predicts, from what they differ by.
#pragma once

#include <vector>

#include "app/light_frames.h"
#include "app/master_file.h"

namespace ng::app {

// Of the lights of one master, brought to scale: where the noise of a plane was measured in each light alone, faint
// stars and all, it is brought to that of repeated frames (reduce/stack/repeat_noise.h), by one factor for all of them.
// Lights whose noise follows from gain and calibration frames stay as they are, and so do those that have nothing to be
// compared with. `input` names the grid and the accepted lights. Errors: those of reading, kCancelled.
[[nodiscard]] Result<void> settle_noise_by_repeats(const std::vector<Light*>& group, const MasterInput& input,
                                                   const ReduceRequest& request, const Context& ctx);

}  // namespace ng::app
