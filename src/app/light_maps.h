// app/light_maps.h - where the lights of a reduction stand to each other, while that is being found out.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "app/light_frames.h"
#include "math/plane_map.h"
#include "reduce/stack/register.h"
#include "reduce/stack/union_grid.h"

namespace ng::app {

using LightMap = std::optional<reduce::Registration>;  // pixels of a light to those of another

// Vectors go by the lights, but for `order`. Until the panels are aligned, all maps lead to the light `best`.
struct LightMaps {
  std::vector<Light>& lights;
  std::vector<std::size_t> order;  // lights that can be registered, the best first
  std::size_t best = 0;
  std::vector<LightMap> maps;
  std::vector<std::string> reasons;  // why there is no map
  std::vector<bool> by_sky;          // whose map comes from the catalogues

  [[nodiscard]] std::vector<std::size_t> without_map() const;
  // A light that has its map, on the grid of `best`.
  [[nodiscard]] reduce::FrameOnGrid on_grid(std::size_t light) const;
};

// No maps yet; lights with fewer than the 4 stars of a pattern get their reason.
[[nodiscard]] LightMaps without_maps(std::vector<Light>& lights);

// outer after inner, from the pixels of a light.
[[nodiscard]] math::PlaneMap composed_for(const Light& light, const math::PlaneMap& outer, const math::PlaneMap& inner);

void place(Light& light, const math::PlaneMap& to_master);

// Tells every light its map onto the light `grid`, or the reason why it has none.
void settle(const LightMaps& state, std::size_t grid);

}  // namespace ng::app
