// app/sort_lights.h - which of the frames are lights, in the order in which they were taken.
#pragma once

#include <string>
#include <vector>

#include "app/light_frames.h"
#include "app/reduce.h"
#include "base/result.h"

namespace ng::app {

// Where no file says that it is a light, those that do not say what they are become lights, and a note tells it; else
// they are left out with a reason. Errors: kNotFound (no lights), with a count of what there is.
[[nodiscard]] Result<std::vector<Light>> sort_lights(std::vector<InputFrame>& frames, const ReduceRequest& request,
                                                     std::vector<std::string>& notes);

}  // namespace ng::app
