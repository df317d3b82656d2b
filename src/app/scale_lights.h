// app/scale_lights.h - the lights of one filter on one scale and one sky; their weights; what is left out.
#pragma once

#include <cstddef>
#include <vector>

#include "app/light_frames.h"
#include "app/reduce.h"

namespace ng::app {

// The lights that the others of their panel were brought to, the one that sets scale and sky of all of them first.
using ScaleReferences = std::vector<const Light*>;

// Scales and skies of a group (same filter), relative to its best frame; panels of a mosaic by their overlaps
// (reduce/stack/level_panels.h). Then grading: what is too wide or worth too little gets its reason.
[[nodiscard]] ScaleReferences bring_group_to_scale(std::vector<Light*>& group, const ReduceRequest& request);

}  // namespace ng::app
