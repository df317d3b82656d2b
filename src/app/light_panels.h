// app/light_panels.h - which lights point to one place of the sky: the panels of a mosaic.
#pragma once

#include <cstddef>
#include <vector>

#include "app/light_maps.h"

namespace ng::app {

// One light for each pointing, `first` for its own: half of any light's field, at least, lies within one of theirs. The
// better lights come before the others.
[[nodiscard]] std::vector<std::size_t> panel_references(const LightMaps& state, std::size_t first);

// Tells every light its panel, that of the light `grid` first; returns their references.
std::vector<std::size_t> find_panels(const LightMaps& state, std::size_t grid);

}  // namespace ng::app
