#include "app/shelf_lights.h"

#include "app/expose.h"

namespace ng::app {

Result<std::vector<ShelfLight>> tonight_lights(const ShelfRequest& request, double gain_setting, double celsius,
                                               const Context& ctx) {
  ExposeRequest ask;
  ask.workspace = request.workspace;
  ask.filters = request.filters;
  ask.gain_setting = gain_setting;
  ask.temperature_c = celsius;
  ask.at = request.at;
  if (!request.light_s.empty()) ask.wish.sub_s = request.light_s.front();
  NG_TRY(const ExposeReply advice, expose(ask, ctx));
  std::vector<ShelfLight> lights;
  for (const ExposeFilter& f : advice.filters) {
    std::vector<double> seconds = request.light_s;
    if (seconds.empty()) seconds.push_back(f.advice.sub_s);
    for (const double s : seconds)
      lights.push_back({f.advice.filter, s, {f.advice.sub_variance_e2 * s / f.advice.sub_s, f.advice.night_subs}});
  }
  return lights;
}

}  // namespace ng::app
