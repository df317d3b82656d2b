// app/sensor.h - the person's own camera measured with the person's own bias, dark and flat frames.
//
// Frames are sorted by camera, size, binning, gain and offset into settings, within these by temperature. Flats of one
// exposure (and filter) are taken two by two; the ladder of exposures is the photon transfer. All of it after EMVA
// 1288: see diagnose/photon_transfer.h, nonuniformity.h, dark_current.h.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/result.h"
#include "frame/bayer.h"
#include "io/overwrite.h"

namespace ng::app {

struct SensorRequest {
  std::vector<std::filesystem::path> files;
  std::optional<std::filesystem::path> folder;   // all frames below it, beside the files
  std::optional<BayerPattern> bayer;             // of a colour camera, whatever its files say
  double sub_s = 300;                            // of the lights that the advice is for
  double temperature_tolerance_c = 1.0;          // within which frames count as of one temperature
  std::optional<std::filesystem::path> chart;    // .png or .svg
  std::optional<std::filesystem::path> defects;  // FITS: 1 hot, 2 cold, 4 unsteady, added up
  bool into_rig = false;                         // gains, full well, dark current into rig.toml of the workspace
  bool into_library = false;  // a file for each setting into sensors/ of the workspace, and its index
  std::optional<std::filesystem::path> workspace;
  io::Overwrite overwrite = io::Overwrite::kRefuse;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("files", self.files);
    visit("folder", self.folder);
    visit("bayer", self.bayer);
    visit("sub_s", self.sub_s);
    visit("temperature_tolerance_c", self.temperature_tolerance_c);
    visit("chart", self.chart);
    visit("defects", self.defects);
    visit("into_rig", self.into_rig);
    visit("into_library", self.into_library);
    visit("overwrite", self.overwrite);
  }
};

struct SensorFigure {
  double value = 0;
  double error = 0;  // one standard deviation
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("value", self.value);
    visit("error", self.error);
  }
};

struct SensorPoint {
  double exposure_s = 0, signal_adu = 0, variance_adu2 = 0;
  bool used = false;  // for the slope
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("exposure_s", self.exposure_s);
    visit("signal_adu", self.signal_adu);
    visit("variance_adu2", self.variance_adu2);
    visit("used", self.used);
  }
};

// One colour of a mosaic, or all pixels together.
struct SensorChannel {
  std::string name;  // "all", "R", "G1", "G2", "B"
  std::optional<SensorFigure> gain_e_adu, read_noise_e, offset_adu, full_well_e, dsnu_e, prnu_percent;
  bool read_noise_is_limit = false;    // it is below this: rounding hides it
  bool full_well_is_limit = false;     // it is above this: the ladder does not reach it
  std::optional<double> saturation_e;  // where the variance is largest (EMVA 1288)
  std::optional<double> dynamic_range, dynamic_range_db, snr_max;
  std::optional<double> linearity_percent, linearity_worst_percent, lamp_percent;
  std::optional<double> dsnu_columns_e, dsnu_rows_e;
  double reduced_chi2 = 0;
  std::vector<SensorPoint> points;
  std::vector<double> deviation_exposure_s, deviation_percent;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("gain_e_adu", self.gain_e_adu);
    visit("read_noise_e", self.read_noise_e);
    visit("read_noise_is_limit", self.read_noise_is_limit);
    visit("offset_adu", self.offset_adu);
    visit("full_well_e", self.full_well_e);
    visit("full_well_is_limit", self.full_well_is_limit);
    visit("saturation_e", self.saturation_e);
    visit("dynamic_range", self.dynamic_range);
    visit("dynamic_range_db", self.dynamic_range_db);
    visit("snr_max", self.snr_max);
    visit("linearity_percent", self.linearity_percent);
    visit("linearity_worst_percent", self.linearity_worst_percent);
    visit("lamp_percent", self.lamp_percent);
    visit("dsnu_e", self.dsnu_e);
    visit("dsnu_columns_e", self.dsnu_columns_e);
    visit("dsnu_rows_e", self.dsnu_rows_e);
    visit("prnu_percent", self.prnu_percent);
    visit("reduced_chi2", self.reduced_chi2);
    visit("points", self.points);
    visit("deviation_exposure_s", self.deviation_exposure_s);
    visit("deviation_percent", self.deviation_percent);
  }
};

struct SensorTemperature {
  double temperature_c = 0;
  bool known = true;  // the headers state it
  int bias = 0, darks = 0, flats = 0;
  std::optional<SensorFigure> dark_e_s, read_noise_e;
  std::optional<SensorFigure> glow_e_s;  // of the brightest block, above the usual pixel
  double glow_x = 0, glow_y = 0, glowing_percent = 0;
  std::optional<double> dark_mean_e_s;  // hot pixels and glow included
  std::int64_t hot = 0, unsteady = 0;
  double dark_line_chi2 = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("temperature_c", self.temperature_c);
    visit("known", self.known);
    visit("bias", self.bias);
    visit("darks", self.darks);
    visit("flats", self.flats);
    visit("read_noise_e", self.read_noise_e);
    visit("dark_e_s", self.dark_e_s);
    visit("dark_mean_e_s", self.dark_mean_e_s);
    visit("dark_line_chi2", self.dark_line_chi2);
    visit("glow_e_s", self.glow_e_s);
    visit("glow_x", self.glow_x);
    visit("glow_y", self.glow_y);
    visit("glowing_percent", self.glowing_percent);
    visit("hot", self.hot);
    visit("unsteady", self.unsteady);
  }
};

// T^1.5 exp(-E / 2kT): diagnose/dark_current.h.
struct SensorLaw {
  SensorFigure energy_ev, doubling_c, e_s_there;
  double middle_c = 0, silicon_doubling_c = 0, reduced_chi2 = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("energy_ev", self.energy_ev);
    visit("doubling_c", self.doubling_c);
    visit("middle_c", self.middle_c);
    visit("e_s_there", self.e_s_there);
    visit("silicon_doubling_c", self.silicon_doubling_c);
    visit("reduced_chi2", self.reduced_chi2);
  }
};

struct SensorSetting {
  std::string camera;
  std::optional<double> gain_setting, offset_setting;
  int width = 0, height = 0, binning = 1;
  double step_adu = 1;     // between stored values
  double largest_adu = 0;  // value that was seen
  SensorChannel all;
  std::vector<SensorChannel> channels;          // of a mosaic
  std::vector<SensorTemperature> temperatures;  // rising
  std::optional<SensorLaw> law;
  std::int64_t cold = 0;
  std::int64_t defects = 0;  // pixels with any bit
  std::vector<std::string> flags;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("camera", self.camera);
    visit("gain_setting", self.gain_setting);
    visit("offset_setting", self.offset_setting);
    visit("width", self.width);
    visit("height", self.height);
    visit("binning", self.binning);
    visit("step_adu", self.step_adu);
    visit("largest_adu", self.largest_adu);
    visit("all", self.all);
    visit("channels", self.channels);
    visit("temperatures", self.temperatures);
    visit("law", self.law);
    visit("cold", self.cold);
    visit("defects", self.defects);
    visit("flags", self.flags);
  }
};

struct SensorVerdict {
  std::optional<double> gain_setting, warmest_c;
  std::vector<std::string> lines;  // which gain and temperature, and why
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("gain_setting", self.gain_setting);
    visit("warmest_c", self.warmest_c);
    visit("lines", self.lines);
  }
};

struct SensorReply {
  std::vector<SensorSetting> settings;
  SensorVerdict verdict;
  std::vector<std::string> left_out;            // files, with the reason
  std::string chart, defects, rig, rig_before;  // files written
  std::vector<std::string> rig_changes;
  std::vector<std::string> kept;   // files of the library that hold these figures
  std::vector<std::string> notes;  // of their way into its index
  double seconds = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("settings", self.settings);
    visit("verdict", self.verdict);
    visit("left_out", self.left_out);
    visit("chart", self.chart);
    visit("defects", self.defects);
    visit("rig", self.rig);
    visit("rig_before", self.rig_before);
    visit("rig_changes", self.rig_changes);
    visit("kept", self.kept);
    visit("notes", self.notes);
    visit("seconds", self.seconds);
  }
};

// Errors: kNotFound (no frames), kTooFew (neither pairs of flats nor darks with bias), kInvalidInput, kExists (a file
// is in the way), kNoMatch (rig.toml is of another sensor), kCorrupt, kIo, kCancelled.
[[nodiscard]] Result<SensorReply> sensor(const SensorRequest& request, const Context& ctx);

}  // namespace ng::app
