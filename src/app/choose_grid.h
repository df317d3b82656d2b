// app/choose_grid.h - the light whose pixels the grid of the masters continues.
#pragma once

#include <cstddef>

#include "app/light_maps.h"

namespace ng::app {

// A good light near the middle of all pointings, standing as most do, or as the first of the night when a meridian flip
// halves them.
[[nodiscard]] std::size_t choose_grid(const LightMaps& state);

}  // namespace ng::app
