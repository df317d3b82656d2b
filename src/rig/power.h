// rig/power.h - what the rig draws, and whether its supplies, cables and battery carry it through the night.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "rig/dew.h"
#include "rig/wiring.h"

namespace ng::rig {

struct Load {
  std::string name;
  double watts = 0;          // while it works as usual
  double peak_watts = 0;     // at worst: a mount that slews, a cooler that cools down; 0: no more than usual
  double share_of_time = 1;  // that it works
  std::string supply;        // empty: the first one
};

struct Supply {
  std::string name;
  double volts = 12.8;
  double rated_a = 10;
  double cable_m = 3;               // one way
  std::optional<double> cable_mm2;  // stranded copper, or
  std::optional<int> cable_awg;     // wire gauge
};

struct Power {
  std::vector<Load> loads;
  std::vector<Supply> supplies;
  std::optional<Battery> battery;
  double lowest_volts = 11.5;  // with which the devices still work
};

struct SupplyUse {
  std::string name;
  double mean_w = 0, mean_a = 0, peak_a = 0, rated_a = 0;
  double drop_v = 0, volts_at_peak = 0;  // at the devices, when all loads peak together
  std::optional<double> fuse_a;
  std::vector<std::string> flags;
};

struct PowerUse {
  std::vector<SupplyUse> supplies;
  double mean_w = 0;
  double night_wh = 0;
  std::optional<double> usable_wh, runtime_h;
  std::vector<std::string> flags;
};

// Errors: kInvalidInput (no load or supply, a load on a supply that is not there, a cable of no known section).
[[nodiscard]] Result<PowerUse> power_use(const Power& power, double temperature_c, double night_h);

}  // namespace ng::rig
