// app/measure_lights.h - all lights of a reduction, side by side.
#pragma once

#include <vector>

#include "app/light_frames.h"
#include "app/measure_store.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

// Calibrates and measures each light of which nothing is kept, as many at once as half of the memory budget holds.
// Returns how many were kept. One that is broken is left out with the reason. Errors: kCancelled.
[[nodiscard]] Result<int> measure_lights(std::vector<Light>& lights, const MeasureStore& kept, const Context& ctx);

}  // namespace ng::app
