#include "app/light_panels.h"

#include <algorithm>

#include "reduce/stack/union_grid.h"

namespace ng::app {
namespace {

constexpr double kPanelShare = 0.5;  // of a frame's area that lies within its panel's reference, at least

}  // namespace

std::vector<std::size_t> panel_references(const LightMaps& state, std::size_t first) {
  std::vector<std::size_t> references{first};
  for (const std::size_t i : state.order) {
    if (!state.maps[i]) continue;
    const bool known = std::any_of(references.begin(), references.end(), [&](std::size_t r) {
      return reduce::overlap_share(state.on_grid(i), state.on_grid(r)) >= kPanelShare;
    });
    if (!known) references.push_back(i);
  }
  return references;
}

std::vector<std::size_t> find_panels(const LightMaps& state, std::size_t grid) {
  const std::vector<std::size_t> references = panel_references(state, grid);
  for (const std::size_t i : state.order) {
    if (!state.maps[i]) continue;
    double most = -1;
    for (std::size_t p = 0; p < references.size(); ++p) {
      const double share =
          i == references[p] ? 2 : reduce::overlap_share(state.on_grid(i), state.on_grid(references[p]));
      if (share <= most) continue;
      most = share;
      state.lights[i].panel = static_cast<int>(p);
    }
  }
  return references;
}

}  // namespace ng::app
