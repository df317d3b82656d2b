// app/lens_of_lights.h - one lens for all lights of one pointing.
#pragma once

#include <cstddef>

#include "app/light_maps.h"

namespace ng::app {

inline constexpr double kSameStarPx = 2;  // two places under a map that is fitted, at most

// Where maps between lights of one camera are bent, one lens may explain them all: then every light is placed anew on
// the light `grid`, flat, and the share is returned by which the lens draws the corners outwards. Else 0, and nothing
// changes. After settle().
[[nodiscard]] double take_out_lens(const LightMaps& state, std::size_t grid);

}  // namespace ng::app
