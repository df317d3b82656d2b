// app/register_lights.h - every light its map onto one grid: that of a good frame, or that of all panels together.
#pragma once

#include <vector>

#include "app/light_frames.h"
#include "app/light_place.h"
#include "app/master_grid.h"
#include "app/reduce.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

// Chooses the reference frame (a good one near the middle of all pointings, standing as most do), and gives every light
// that can be registered its map onto the grid; the others their reason. Lights that share less than half of
// their field form panels: their maps are fitted together, and the grid holds them all unless `extent` says
// otherwise. Lights, and whole panels, whose stars fit no other light's are placed by `places`,
// unless they point to another object. Errors: kTooFew,
// kNoMatch when nothing fits; kInvalidInput when the field is too large for one picture.
[[nodiscard]] Result<MasterGrid> register_lights(std::vector<Light>& lights, Extent extent, const LightPlaces& places,
                                                 const Context& ctx);

}  // namespace ng::app
