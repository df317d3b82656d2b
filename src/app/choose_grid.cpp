#include "app/choose_grid.h"

#include <algorithm>
#include <cmath>
#include <span>
#include <vector>

#include "math/robust.h"

namespace ng::app {
namespace {

double median_of(std::vector<double> values) {
  return values.empty() ? 0 : math::median(std::span<double>(values));
}

}  // namespace

std::size_t choose_grid(const LightMaps& state) {
  std::vector<double> xs, ys;
  for (const std::size_t i : state.order) {
    if (!state.maps[i]) continue;
    const math::Point p = state.maps[i]->map.apply(state.lights[i].centre());
    xs.push_back(p.x);
    ys.push_back(p.y);
  }
  const math::Point middle{median_of(xs), median_of(ys)};
  const auto upright = [&](std::size_t i) { return state.maps[i]->map.linear_at(state.lights[i].centre()).a > 0; };
  int balance = 0;
  for (const std::size_t i : state.order)
    if (state.maps[i]) balance += upright(i) ? 1 : -1;
  const auto first = std::find_if(state.maps.begin(), state.maps.end(), [](const auto& m) { return m.has_value(); });
  const bool way = balance != 0 ? balance > 0 : upright(static_cast<std::size_t>(first - state.maps.begin()));
  std::size_t grid = state.best;
  double nearest = 1e30;
  for (const std::size_t i : state.order) {
    if (!state.maps[i] || upright(i) != way || state.lights[i].score() < 0.8 * state.lights[state.best].score())
      continue;
    const math::Point p = state.maps[i]->map.apply(state.lights[i].centre());
    const double d = std::hypot(p.x - middle.x, p.y - middle.y);
    if (d < nearest) {
      nearest = d;
      grid = i;
    }
  }
  return grid;
}

}  // namespace ng::app
