#include "rig/power.h"

#include <fmt/format.h>

#include <algorithm>

namespace ng::rig {
namespace {

constexpr double kRatingKept = 0.8;  // of a rating that lasting use should not pass (common practice, no source)

Result<double> cable_ohm_per_km(const Supply& s) {
  if (s.cable_mm2) return stranded_ohm_per_km(*s.cable_mm2);
  if (s.cable_awg) return awg_ohm_per_km(*s.cable_awg);
  return Error(Code::kInvalidInput, "its cable has no section: give cable_mm2 or cable_awg");
}

bool is_on(const Load& load, const Supply& supply, const Power& power) {
  return load.supply == supply.name || (load.supply.empty() && &supply == &power.supplies.front());
}

Result<SupplyUse> supply_use(const Power& power, const Supply& s, double temperature_c) {
  SupplyUse use;
  use.name = s.name;
  use.rated_a = s.rated_a;
  double peak_w = 0;
  const Load* worst = nullptr;
  for (const Load& load : power.loads) {
    if (!is_on(load, s, power)) continue;
    use.mean_w += load.watts * load.share_of_time;
    const double peak = std::max(load.watts, load.peak_watts);
    peak_w += peak;
    if (worst == nullptr || peak - load.watts > worst->peak_watts - worst->watts) worst = &load;
  }
  use.mean_a = use.mean_w / s.volts;
  use.peak_a = peak_w / s.volts;
  NG_TRY(const double ohm, cable_ohm_per_km(s));
  use.drop_v = voltage_drop_v(s.cable_m, ohm * copper_factor(temperature_c), use.peak_a);
  use.volts_at_peak = s.volts - use.drop_v;
  if (use.peak_a > 0) {
    const auto fuse = rig::fuse_a(use.peak_a);
    if (fuse.ok()) use.fuse_a = *fuse;
    if (!fuse.ok()) use.flags.push_back(fuse.error().message());
  }
  if (use.peak_a > s.rated_a)
    use.flags.push_back(
        fmt::format("at its peak it gives {:.1f} A and is rated {:g} A: {} deserves a supply of its own", use.peak_a,
                    s.rated_a, worst->name));
  if (use.mean_a > kRatingKept * s.rated_a)
    use.flags.push_back(fmt::format("{:.1f} A all night long is more than {:.0f} % of its {:g} A", use.mean_a,
                                    100 * kRatingKept, s.rated_a));
  if (use.volts_at_peak < power.lowest_volts)
    use.flags.push_back(fmt::format("at the peak {:.2f} V arrive and {:g} V are needed: a thicker or shorter cable",
                                    use.volts_at_peak, power.lowest_volts));
  return use;
}

}  // namespace

Result<PowerUse> power_use(const Power& power, double temperature_c, double night_h) {
  if (power.loads.empty()) return Error(Code::kInvalidInput, "there is no load: name one at least");
  if (power.supplies.empty()) return Error(Code::kInvalidInput, "there is no supply: name one at least");
  for (const Load& load : power.loads)
    if (std::none_of(power.supplies.begin(), power.supplies.end(),
                     [&](const Supply& s) { return is_on(load, s, power); }))
      return Error(Code::kInvalidInput, fmt::format("load {}: there is no supply {}", load.name, load.supply));
  PowerUse use;
  for (const Supply& s : power.supplies) {
    NG_TRY(SupplyUse one, supply_use(power, s, temperature_c).in("supply " + s.name));
    use.mean_w += one.mean_w;
    use.supplies.push_back(std::move(one));
  }
  use.night_wh = use.mean_w * night_h;
  if (!power.battery || !(use.mean_w > 0)) return use;
  use.usable_wh = usable_wh(*power.battery, temperature_c);
  use.runtime_h = runtime_h(*power.battery, temperature_c, use.mean_w);
  if (*use.runtime_h < night_h)
    use.flags.push_back(fmt::format("the battery lasts {:.1f} of {:.1f} hours: {:.0f} Wh more are needed",
                                    *use.runtime_h, night_h, use.mean_w * (night_h - *use.runtime_h)));
  if (temperature_c < 0 && power.battery->chemistry == Chemistry::kLithiumIronPhosphate)
    use.flags.emplace_back("do not charge a lithium battery below 0 C");
  return use;
}

}  // namespace ng::rig
