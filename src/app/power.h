// app/power.h - supplies, battery, cables and dew of a night.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/result.h"
#include "rig/power.h"

namespace ng::app {

struct PowerRequest {
  std::optional<std::filesystem::path> workspace;
  double night_h = 10;
  std::optional<double> temperature_c;          // at the coldest; none: of site.toml
  std::optional<double> humidity_percent;       // then; none: of site.toml
  std::optional<double> evening_temperature_c;  // none: 6 degrees more than at the coldest
  double dew_margin_c = 2;                      // that the glass is kept above the dew point
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("night_h", self.night_h);
    visit("temperature_c", self.temperature_c);
    visit("humidity_percent", self.humidity_percent);
    visit("evening_temperature_c", self.evening_temperature_c);
    visit("dew_margin_c", self.dew_margin_c);
  }
};

struct PowerSupply {
  rig::SupplyUse use;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.use.name);
    visit("mean_w", self.use.mean_w);
    visit("mean_a", self.use.mean_a);
    visit("peak_a", self.use.peak_a);
    visit("rated_a", self.use.rated_a);
    visit("drop_v", self.use.drop_v);
    visit("volts_at_peak", self.use.volts_at_peak);
    visit("fuse_a", self.use.fuse_a);
    visit("flags", self.use.flags);
  }
};

struct PowerHour {
  double hour = 0;  // since the beginning of the night
  double temperature_c = 0, humidity_percent = 0, dew_point_c = 0, glass_c = 0, heater_w = 0;
  bool wet = false;  // without heat
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("hour", self.hour);
    visit("temperature_c", self.temperature_c);
    visit("humidity_percent", self.humidity_percent);
    visit("dew_point_c", self.dew_point_c);
    visit("glass_c", self.glass_c);
    visit("heater_w", self.heater_w);
    visit("wet", self.wet);
  }
};

struct PowerReply {
  double night_h = 0, temperature_c = 0, aperture_mm = 0;
  std::vector<PowerSupply> supplies;
  double mean_w = 0, night_wh = 0;
  std::optional<double> usable_wh, runtime_h;
  std::vector<PowerHour> hours;
  std::vector<std::string> flags, cautions;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("night_h", self.night_h);
    visit("temperature_c", self.temperature_c);
    visit("aperture_mm", self.aperture_mm);
    visit("supplies", self.supplies);
    visit("mean_w", self.mean_w);
    visit("night_wh", self.night_wh);
    visit("usable_wh", self.usable_wh);
    visit("runtime_h", self.runtime_h);
    visit("hours", self.hours);
    visit("flags", self.flags);
    visit("cautions", self.cautions);
  }
};

// The air cools evenly from the evening to the coldest, keeping its water: humidity rises with the cold. Errors: those
// of the workspace; kInvalidInput (no [power] in rig.toml, a value out of range).
[[nodiscard]] Result<PowerReply> power(const PowerRequest& request, const Context& ctx);

}  // namespace ng::app
