#include "app/power.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/workspace.h"
#include "rig/dew.h"

namespace ng::app {
namespace {

constexpr double kUsualCoolingC = 6;  // from evening to morning (common practice, no source)

Result<void> check(const char* what, double value, double low, double high) {
  if (value >= low && value <= high) return {};
  return Error(Code::kInvalidInput, fmt::format("{} is {}: it must lie between {} and {}", what, value, low, high));
}

}  // namespace

Result<PowerReply> power(const PowerRequest& r, const Context&) {
  NG_TRY(const Workspace w, open_workspace(r.workspace));
  const double coldest = r.temperature_c.value_or(w.site.temperature_c);
  const double humidity = r.humidity_percent.value_or(w.site.humidity_percent);
  const double evening = r.evening_temperature_c.value_or(coldest + kUsualCoolingC);
  NG_CHECK(check("the night in hours", r.night_h, 0.5, 24));
  NG_CHECK(check("the temperature", coldest, -60, 50));
  NG_CHECK(check("the evening's temperature", evening, coldest, 60));
  NG_CHECK(check("the humidity", humidity, 1, 100));
  NG_CHECK(check("the margin above the dew point", r.dew_margin_c, 0, 20));
  if (!w.rig.power)
    return Error(Code::kInvalidInput, fmt::format("{} has no [power]: add [[power.supplies]] and [[power.loads]], as "
                                                  "`nightglass init` writes them into a new workspace",
                                                  (w.folder / "rig.toml").string()));
  NG_TRY(const rig::PowerUse use,
         rig::power_use(*w.rig.power, coldest, r.night_h).in((w.folder / "rig.toml").string()));

  PowerReply reply;
  reply.night_h = r.night_h;
  reply.temperature_c = coldest;
  reply.aperture_mm = w.rig.optics.aperture_mm;
  for (const rig::SupplyUse& s : use.supplies) reply.supplies.push_back({s});
  reply.mean_w = use.mean_w;
  reply.night_wh = use.night_wh;
  reply.usable_wh = use.usable_wh;
  reply.runtime_h = use.runtime_h;
  reply.flags = use.flags;
  const double vapour_hpa = rig::saturation_pressure_hpa(coldest) * humidity / 100;
  const rig::FrontGlass glass{w.rig.optics.aperture_mm};
  for (int hour = 0; hour <= static_cast<int>(std::floor(r.night_h)); ++hour) {
    PowerHour h;
    h.hour = hour;
    h.temperature_c = std::lerp(evening, coldest, hour / r.night_h);
    h.humidity_percent = std::min(100.0, 100 * vapour_hpa / rig::saturation_pressure_hpa(h.temperature_c));
    h.dew_point_c = rig::dew_point_c(h.temperature_c, h.humidity_percent);
    h.glass_c = rig::glass_temperature_c(glass, h.temperature_c);
    h.wet = h.glass_c <= h.dew_point_c;
    h.heater_w = rig::heater_need_w(glass, h.temperature_c, h.humidity_percent, r.dew_margin_c);
    reply.hours.push_back(h);
  }
  if (w.rig.power->battery)
    reply.cautions.emplace_back(
        "Batteries hold enough energy to burn: a fuse close to the battery's pole, poles covered, "
        "no charging below 0 C, and the maker's own limits first.");
  reply.cautions.emplace_back(
      "Mains outdoors only behind residual-current protection and with leads made for outdoors, by "
      "your local electrical code; fixed wiring is work for a licensed electrician.");
  reply.cautions.emplace_back("Cables on the ground trip people in the dark; cold makes hands and insulation stiff.");
  return reply;
}

}  // namespace ng::app
