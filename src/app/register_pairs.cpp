#include "app/register_pairs.h"

#include <algorithm>

#include "base/parallel.h"

namespace ng::app {

Result<void> register_on(const LightMaps& state, std::size_t reference, const std::vector<std::size_t>& which,
                         std::vector<LightMap>& maps, std::vector<std::string>& reasons, const Context& ctx) {
  return parallel_for(ctx, static_cast<int>(which.size()), [&](int k) {
    const std::size_t i = which[static_cast<std::size_t>(k)];
    auto r = i == reference ? Result<reduce::Registration>(
                                  reduce::Registration{{}, static_cast<int>(state.lights[i].stars.stars.size()), 0, 0})
                            : reduce::register_stars(state.lights[i].stars, state.lights[reference].stars);
    if (r.ok()) {
      maps[i] = *r;
    } else {
      reasons[i] = r.error().message();
    }
  });
}

Result<void> register_on_best(LightMaps& state, const Context& ctx) {
  int most = -1;
  for (std::size_t attempt = 0; attempt < std::min<std::size_t>(3, state.order.size()); ++attempt) {
    std::vector<LightMap> maps(state.lights.size());
    std::vector<std::string> reasons(state.lights.size());
    NG_CHECK(register_on(state, state.order[attempt], state.order, maps, reasons, ctx));
    const int count =
        static_cast<int>(std::count_if(maps.begin(), maps.end(), [](const auto& m) { return m.has_value(); }));
    if (count > most) {
      most = count;
      state.best = state.order[attempt];
      state.maps = std::move(maps);
      state.reasons = std::move(reasons);
    }
    if (2 * most > static_cast<int>(state.order.size())) break;
  }
  return {};
}

}  // namespace ng::app
