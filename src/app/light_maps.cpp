#include "app/light_maps.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "math/bend_fit.h"

namespace ng::app {

std::vector<std::size_t> LightMaps::without_map() const {
  std::vector<std::size_t> missing;
  for (const std::size_t i : order)
    if (!maps[i]) missing.push_back(i);
  return missing;
}

reduce::FrameOnGrid LightMaps::on_grid(std::size_t light) const {
  return {lights[light].stars.width, lights[light].stars.height, maps[light]->map};
}

LightMaps without_maps(std::vector<Light>& lights) {
  LightMaps state{lights, {}, 0, {}, {}, std::vector<bool>(lights.size(), false)};
  for (std::size_t i = 0; i < lights.size(); ++i) {
    Light& light = lights[i];
    if (!light.accepted()) continue;
    if (light.stars.stars.size() >= 4) {
      state.order.push_back(i);
    } else {
      light.reason = fmt::format("only {} stars found, and a star pattern needs at least 4", light.stars.stars.size());
    }
  }
  std::stable_sort(state.order.begin(), state.order.end(),
                   [&](std::size_t a, std::size_t b) { return lights[a].score() > lights[b].score(); });
  return state;
}

math::PlaneMap composed_for(const Light& light, const math::PlaneMap& outer, const math::PlaneMap& inner) {
  return math::composed(outer, inner, light.stars.width, light.stars.height);
}

void place(Light& light, const math::PlaneMap& to_master) {
  light.to_master = to_master;
  light.pixel_area = 1 / std::fabs(to_master.linear_at(light.centre()).determinant());
}

void settle(const LightMaps& state, std::size_t grid) {
  const math::PlaneMap rebase = state.maps[grid]->map.inverse();
  for (std::size_t i = 0; i < state.lights.size(); ++i) {
    Light& light = state.lights[i];
    if (!light.accepted()) continue;
    if (!state.maps[i]) {
      light.reason = state.reasons[i].empty() ? "could not be registered" : state.reasons[i];
      continue;
    }
    light.registered = true;
    light.registration = *state.maps[i];
    place(light, i == grid ? math::PlaneMap() : composed_for(light, rebase, state.maps[i]->map));
  }
}

}  // namespace ng::app
