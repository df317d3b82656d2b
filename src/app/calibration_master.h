// app/calibration_master.h - a dark, bias, flat or dark-flat of many frames on disk, kept for the next reduction.
//
// NAME.fits holds the pixels (float, as the frames' ADU; flats: relative to their median) and NAME.calibration.json all
// that they follow from: the content of each frame in the order of their sum, the options and the version of the
// algorithm. The key is a hash of all of that: where it is the same, so are the pixels. No path and no time of writing
// stands in either, so that the same frames make the same two files in every workspace.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/input_frames.h"
#include "app/message.h"
#include "base/result.h"
#include "reduce/single/master.h"
#include "store/product_records.h"

namespace ng::app {

struct CalibrationMasterFrame {
  std::string name, xxh3_128, start;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("xxh3_128", self.xxh3_128);
    visit("start", self.start);
  }
};

struct CalibrationMaster {
  std::string kind, key;
  int version = 0, frames = 0;
  std::string pixels_xxh3_128;  // of the float values, row by row
  double single_noise_adu = 0;
  std::string camera, filter;
  int width = 0, height = 0, binning_x = 1, binning_y = 1;
  // Of flats without the temperature, of all others without the rotation: the mean, or what all frames have.
  std::optional<double> exposure_s, gain_setting, offset_setting, sensor_temperature_c, rotation_deg;
  std::string first, last;  // starts of the frames, UTC; empty where none states it
  double kappa = 0;
  bool normalise = false;
  std::string bayer;      // by whose colours it is normalised
  std::string zero;       // key of the master that was taken off each frame
  double zero_level = 0;  // or this level
  std::vector<CalibrationMasterFrame> calibration;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("kind", self.kind);
    visit("key", self.key);
    visit("version", self.version);
    visit("frames", self.frames);
    visit("pixels_xxh3_128", self.pixels_xxh3_128);
    visit("single_noise_adu", self.single_noise_adu);
    visit("camera", self.camera);
    visit("filter", self.filter);
    visit("width", self.width);
    visit("height", self.height);
    visit("binning_x", self.binning_x);
    visit("binning_y", self.binning_y);
    visit("exposure_s", self.exposure_s);
    visit("gain_setting", self.gain_setting);
    visit("offset_setting", self.offset_setting);
    visit("sensor_temperature_c", self.sensor_temperature_c);
    visit("rotation_deg", self.rotation_deg);
    visit("first", self.first);
    visit("last", self.last);
    visit("kappa", self.kappa);
    visit("normalise", self.normalise);
    visit("bayer", self.bayer);
    visit("zero", self.zero);
    visit("zero_level", self.zero_level);
    visit("calibration", self.calibration);
  }
};

inline constexpr std::string_view kCalibrationEnding = ".calibration.json";

// All but what the pixels tell. `members` in the order of their sum; `zero`: key of the master that is taken off.
[[nodiscard]] CalibrationMaster describe_master(const std::vector<const InputFrame*>& members, FrameKind kind,
                                                const reduce::MasterOptions& options, const std::string& zero);

// A name that a person can read, without folder and extension.
[[nodiscard]] std::string calibration_master_name(const CalibrationMaster& master);

// Whether a file is one of ours: its description lies beside it.
[[nodiscard]] bool is_calibration_master(const std::filesystem::path& fits);

// Errors: kNotFound, kIo, kCorrupt (no such description).
[[nodiscard]] Result<CalibrationMaster> read_calibration_master(const std::filesystem::path& description);
// The pixels, compared with what the description states. Errors: kCorrupt (they are not what was kept), kIo, kNotFound.
[[nodiscard]] Result<reduce::Master> read_calibration_pixels(const std::filesystem::path& fits,
                                                             const CalibrationMaster& master);
// Both files, the description last, so that a FITS file alone is one that did not get done. Nothing is replaced: a name
// that is taken by something else gets a number. Returns the path of the description. `master` has its pixels filled
// in. Errors: kIo.
[[nodiscard]] Result<std::filesystem::path> write_calibration_master(const std::filesystem::path& folder,
                                                                     const CalibrationMaster& master,
                                                                     View<const float> image);
[[nodiscard]] std::string hash_pixels(View<const float> image);

// What the library keeps of it; paths, hashes of files and bytes stay empty.
[[nodiscard]] store::CalibrationMasterRecord record_of(const CalibrationMaster& master);

}  // namespace ng::app
