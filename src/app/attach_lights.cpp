#include "app/attach_lights.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "app/light_panels.h"
#include "app/register_pairs.h"
#include "astrometry/frame_map.h"
#include "base/parallel.h"

namespace ng::app {
namespace {

constexpr double kNeighbourhood = 1.5;  // diagonals between panels that the sky joins: farther off is another object

// Frames at the far end of a walking field: neighbours in time.
void walk(LightMaps& state) {
  for (bool again = true; again;) {
    again = false;
    for (const std::size_t i : state.order) {
      if (state.maps[i]) continue;
      for (const std::size_t step : {i - 1, i + 1}) {  // beyond the ends wraps to a huge index
        if (step >= state.lights.size() || !state.maps[step]) continue;
        auto r = reduce::register_stars(state.lights[i].stars, state.lights[step].stars);
        if (!r.ok()) continue;
        r->map = composed_for(state.lights[i], state.maps[step]->map, r->map);
        state.maps[i] = *r;
        again = true;
        break;
      }
    }
  }
}

// One more panel: the best frame without a place that can be joined to one of the panels that have theirs, and all
// that register on it.
Result<bool> attach_panel(LightMaps& state, const std::vector<std::size_t>& missing, const Context& ctx) {
  std::vector<bool> tried(state.lights.size(), false);
  const std::vector<std::size_t> placed = panel_references(state, state.best);
  for (const std::size_t i : missing) {
    if (tried[i]) continue;
    std::vector<LightMap> maps(state.lights.size());
    std::vector<std::string> reasons(state.lights.size());
    NG_CHECK(register_on(state, i, missing, maps, reasons, ctx));
    for (const std::size_t k : missing) tried[k] = tried[k] || maps[k].has_value();
    std::vector<LightMap> joined(placed.size());
    NG_CHECK(parallel_for(ctx, static_cast<int>(placed.size()), [&](int k) {
      const auto at = static_cast<std::size_t>(k);
      auto r = reduce::register_neighbours(state.lights[i].stars, state.lights[placed[at]].stars);
      if (r.ok()) joined[at] = *r;
    }));
    const auto best = std::max_element(joined.begin(), joined.end(), [](const LightMap& a, const LightMap& b) {
      return (a ? a->pairs : 0) < (b ? b->pairs : 0);
    });
    if (best == joined.end() || !*best) continue;
    const math::PlaneMap onto = composed_for(
        state.lights[i], state.maps[placed[static_cast<std::size_t>(best - joined.begin())]]->map, (*best)->map);
    for (const std::size_t k : missing) {
      if (!maps[k]) continue;
      maps[k]->map = composed_for(state.lights[k], onto, maps[k]->map);
      state.maps[k] = maps[k];
    }
    return true;
  }
  return false;
}

// From the middle of a light under a map to the nearest middle of those that have their place, in its own diagonals.
double beyond(const LightMaps& state, const Light& light, const math::PlaneMap& map) {
  const math::Point middle = map.apply(light.centre());
  const double diagonal = std::hypot(light.stars.width, light.stars.height) * map.linear_at(light.centre()).scale();
  double nearest = std::numeric_limits<double>::infinity();
  for (const std::size_t i : state.order) {
    if (!state.maps[i]) continue;
    const math::Point other = state.maps[i]->map.apply(state.lights[i].centre());
    nearest = std::min(nearest, std::hypot(other.x - middle.x, other.y - middle.y));
  }
  return nearest / diagonal;
}

// The last resort: a light that the catalogues place, on the light that all maps lead to, and all that register on
// it.
Result<bool> attach_by_sky(LightMaps& state, const std::vector<std::size_t>& missing, const LightPlaces& places,
                           const Context& ctx) {
  for (const std::size_t i : missing) {
    const Light& light = state.lights[i];
    const auto own = places(light);
    if (!own) continue;
    const auto best = places(state.lights[state.best]);
    if (!best) return false;
    const StarList& reference = state.lights[state.best].stars;
    const auto across = astrometry::frame_map(*own, {light.stars.width, light.stars.height}, *best,
                                              {reference.width, reference.height});
    if (!across.ok()) continue;
    if (const double far = beyond(state, light, across->homography); far > kNeighbourhood) {
      state.reasons[i] = fmt::format("it points elsewhere, {:.1f} frames away from the others: another object?", far);
      continue;
    }
    // Where the pictures do share stars, those are better than any catalogue.
    reduce::Registration onto{across->homography};
    const auto near = reduce::register_near(light.stars, reference, across->homography);
    if (near.ok()) onto = *near;
    std::vector<LightMap> maps(state.lights.size());
    std::vector<std::string> reasons(state.lights.size());
    NG_CHECK(register_on(state, i, missing, maps, reasons, ctx));
    for (const std::size_t k : missing) {
      if (!maps[k]) continue;
      maps[k]->map = k == i ? onto.map : composed_for(state.lights[k], onto.map, maps[k]->map);
      state.maps[k] = maps[k];
      state.by_sky[k] = !near.ok();
    }
    return true;
  }
  return false;
}

}  // namespace

Result<void> attach_lights(LightMaps& state, const LightPlaces& places, const Context& ctx) {
  walk(state);
  while (true) {
    const std::vector<std::size_t> missing = state.without_map();
    if (missing.empty()) return {};
    NG_TRY(bool found, attach_panel(state, missing, ctx));
    if (!found) {
      NG_TRY(found, attach_by_sky(state, missing, places, ctx));
    }
    if (!found) return {};
    walk(state);
  }
}

}  // namespace ng::app
