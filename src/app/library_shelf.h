// app/library_shelf.h - the calibration shelf: what the library holds for the lights of tonight, what is missing, what
// no longer holds, and what it would cost to go without.
//
// Tonight's lights: the rig's gain and cooler, each filter with the sub-exposure that `expose` advises, unless the
// request says otherwise. Frames are matched by the one rule of app/calibration_rule.h, with the tolerances of
// calibration.toml.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/instant.h"
#include "base/result.h"

namespace ng::app {

struct ShelfRequest {
  std::optional<std::filesystem::path> workspace;
  std::vector<double> light_s;       // sub-exposures of tonight; empty: as advised
  std::vector<std::string> filters;  // of tonight; empty: all of the rig
  std::optional<double> gain_setting, offset_setting, temperature_c, rotation_deg;  // empty: of rig.toml; any
  bool pixels = true;  // also read darks, to see whether old ones still hold and whether they scale
  Instant at;          // today
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("light_s", self.light_s);
    visit("filters", self.filters);
    visit("gain_setting", self.gain_setting);
    visit("offset_setting", self.offset_setting);
    visit("temperature_c", self.temperature_c);
    visit("rotation_deg", self.rotation_deg);
    visit("pixels", self.pixels);
    visit("at", self.at);
  }
};

// Frames on the shelf that are alike.
struct ShelfSet {
  std::string kind, camera, filter;
  std::optional<double> exposure_s, gain_setting, offset_setting, temperature_c, rotation_deg;
  int binning = 1, frames = 0, nights = 0;
  std::string first_night, last_night;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("kind", self.kind);
    visit("camera", self.camera);
    visit("filter", self.filter);
    visit("exposure_s", self.exposure_s);
    visit("gain_setting", self.gain_setting);
    visit("offset_setting", self.offset_setting);
    visit("temperature_c", self.temperature_c);
    visit("rotation_deg", self.rotation_deg);
    visit("binning", self.binning);
    visit("frames", self.frames);
    visit("nights", self.nights);
    visit("first_night", self.first_night);
    visit("last_night", self.last_night);
  }
};

// A master that a reduction kept, and whether the next one may take it as it is.
struct ShelfMaster {
  std::string path, kind, camera, filter;
  std::optional<double> exposure_s, gain_setting, temperature_c, rotation_deg;
  int frames = 0;
  std::string last;  // start of its newest frame, UTC; empty: not known
  std::optional<double> age_days;
  std::string state;               // "valid", "old", "drifted", "not valid"
  std::vector<std::string> notes;  // why
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("kind", self.kind);
    visit("camera", self.camera);
    visit("filter", self.filter);
    visit("exposure_s", self.exposure_s);
    visit("gain_setting", self.gain_setting);
    visit("temperature_c", self.temperature_c);
    visit("rotation_deg", self.rotation_deg);
    visit("frames", self.frames);
    visit("last", self.last);
    visit("age_days", self.age_days);
    visit("state", self.state);
    visit("notes", self.notes);
  }
};

struct ShelfNeed {
  std::string kind, filter;
  std::optional<double> exposure_s, temperature_c;
  double gain_setting = 0;
  std::string state;  // "there", "few", "missing", "old", "drifted"
  int wanted = 0, have = 0, take = 0;
  double take_min = 0;  // how long that lasts
  std::string last_night;
  std::optional<double> age_days;
  std::vector<std::string> notes;  // what it costs to go without; what was tested
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("kind", self.kind);
    visit("filter", self.filter);
    visit("exposure_s", self.exposure_s);
    visit("temperature_c", self.temperature_c);
    visit("gain_setting", self.gain_setting);
    visit("state", self.state);
    visit("wanted", self.wanted);
    visit("have", self.have);
    visit("take", self.take);
    visit("take_min", self.take_min);
    visit("last_night", self.last_night);
    visit("age_days", self.age_days);
    visit("notes", self.notes);
  }
};

// The sensor that the costs are reckoned with: measured figures of the library before those of rig.toml.
struct ShelfSensor {
  double gain_setting = 0, gain_e_adu = 0, read_noise_e = 0;
  double dark_e_s = 0, temperature_c = 0;             // of the usual pixel at tonight's temperature
  std::string gain_from, read_noise_from, dark_from;  // a file below the workspace, or "rig.toml"
  std::string measured;                               // start of the newest frame behind them, UTC; empty: none
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("gain_setting", self.gain_setting);
    visit("gain_e_adu", self.gain_e_adu);
    visit("gain_from", self.gain_from);
    visit("read_noise_e", self.read_noise_e);
    visit("read_noise_from", self.read_noise_from);
    visit("dark_e_s", self.dark_e_s);
    visit("temperature_c", self.temperature_c);
    visit("dark_from", self.dark_from);
    visit("measured", self.measured);
  }
};

struct ShelfReply {
  std::vector<ShelfSet> sets;
  std::vector<ShelfNeed> needs;
  std::vector<ShelfMaster> masters;
  std::optional<ShelfSensor> sensor;  // none: no gain of rig.toml, no costs
  std::vector<std::string> notes;
  double take_min = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("sets", self.sets);
    visit("needs", self.needs);
    visit("masters", self.masters);
    visit("sensor", self.sensor);
    visit("notes", self.notes);
    visit("take_min", self.take_min);
  }
};

// Errors: those of the workspace, of calibration.toml, of the library, of `expose`; kIo, kCorrupt, kCancelled.
[[nodiscard]] Result<ShelfReply> calibration_shelf(const ShelfRequest& request, const Context& ctx);

}  // namespace ng::app
