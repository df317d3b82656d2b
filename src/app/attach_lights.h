// app/attach_lights.h - lights that share too few stars with the reference, brought to it by way of others.
#pragma once

#include "app/light_maps.h"
#include "app/light_place.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

// What shares too few stars with the reference may share enough with a light that has its place already: a neighbour in
// time, or another panel. The last resort are `places`, unless they point to another object. Errors: kCancelled.
[[nodiscard]] Result<void> attach_lights(LightMaps& state, const LightPlaces& places, const Context& ctx);

}  // namespace ng::app
