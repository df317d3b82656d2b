// store/product_records.h - masters and pictures as the library keeps them: what they are, and what they were made of.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "base/instant.h"
#include "frame/facts.h"

namespace ng::store {

struct RecipeInputRecord {
  std::string role;  // "light", "calibration", "master"
  std::string hash;  // XXH3-128 of the content that it had

  friend bool operator==(const RecipeInputRecord&, const RecipeInputRecord&) = default;
};

// One of ours, whatever it is.
struct ProductFile {
  std::string path;  // below the workspace
  std::string hash;  // that it had when it was entered
};

struct RecipeRecord {
  std::string path;  // below the workspace
  std::string hash;
  std::vector<RecipeInputRecord> inputs;

  friend bool operator==(const RecipeRecord&, const RecipeRecord&) = default;
};

// What the reduction thought of a light, beside the others of its master.
struct GradeRecord {
  std::string frame_hash;
  bool accepted = false;
  std::optional<double> worth;  // squared signal-to-noise ratio that it has alone, relative to the best
  std::string reason;           // why it was left out
};

// What was measured of one light alone, after calibration; the whole of it lies in the master's file of measures.
struct MeasureRecord {
  std::string frame_hash;
  std::string key;  // everything that the measures follow from
  int version = 0;  // of the algorithm
  int stars = 0;
  int trails = 0;
  std::optional<double> fwhm_px, half_flux_radius_px, eccentricity;  // absent: no star good enough
  double background_e = 0, noise_e = 0;
};

struct MasterRecord {
  std::string path;  // below the workspace
  std::string hash;
  std::int64_t bytes = 0;
  std::string target, filter;  // as its header names them
  std::optional<int> frames;   // of them it is the mean
  std::optional<double> exposure_s, fwhm_px, noise_e;
  RecipeRecord recipe;
  std::vector<GradeRecord> grades;
  std::string measures_path;  // below the workspace; empty: none
  std::vector<MeasureRecord> measures;
};

struct PictureRecord {
  std::string path;
  std::string hash;
  std::int64_t bytes = 0;
  RecipeRecord recipe;
};

// A dark, bias, flat or dark-flat of many frames, kept for the next reduction. The recipe's inputs are those frames.
struct CalibrationMasterRecord {
  std::string path;  // below the workspace
  std::string hash;
  std::int64_t bytes = 0;
  FrameKind kind = FrameKind::kUnknown;
  std::string key;  // everything that its pixels follow from
  int version = 0;  // of the algorithm
  int frames = 0;
  double single_noise_adu = 0;  // of one frame's pixel
  std::string camera, filter;
  int width = 0, height = 0, binning_x = 1, binning_y = 1;
  std::optional<double> exposure_s, gain_setting, offset_setting, sensor_temperature_c, rotation_deg;
  std::optional<Instant> first, last;  // starts of its frames
  RecipeRecord recipe;

  friend bool operator==(const CalibrationMasterRecord&, const CalibrationMasterRecord&) = default;
};

struct MeasuredRecord {
  double value = 0;
  double error = 0;  // one standard deviation

  friend bool operator==(const MeasuredRecord&, const MeasuredRecord&) = default;
};

// One colour of a mosaic, or all pixels together.
struct SensorChannelRecord {
  std::string channel;  // "all", "R", "G1", "G2", "B"
  std::optional<MeasuredRecord> gain_e_adu, read_noise_e, offset_adu, full_well_e, dsnu_e, prnu_percent;
  bool read_noise_is_limit = false;  // it is below this
  bool full_well_is_limit = false;   // it is above this
  std::optional<double> linearity_percent;

  friend bool operator==(const SensorChannelRecord&, const SensorChannelRecord&) = default;
};

struct SensorTemperatureRecord {
  std::optional<double> temperature_c;  // absent: the headers do not state it
  int bias = 0, darks = 0, flats = 0;
  std::optional<MeasuredRecord> read_noise_e, dark_e_s, glow_e_s;
  std::int64_t hot = 0, hopping = 0;

  friend bool operator==(const SensorTemperatureRecord&, const SensorTemperatureRecord&) = default;
};

// A camera at one gain, as it was measured. The file is its own recipe; that one's inputs are the frames.
struct SensorRecord {
  std::string path;  // below the workspace
  std::string hash;
  std::int64_t bytes = 0;
  std::string key;  // everything that the figures follow from
  int version = 0;  // of the algorithm
  std::string camera;
  std::optional<double> gain_setting, offset_setting;
  int width = 0, height = 0, binning = 1;
  int frames = 0;
  std::optional<Instant> first, last;  // starts of its frames
  std::int64_t cold = 0, defects = 0;
  RecipeRecord recipe;
  std::vector<SensorChannelRecord> channels;          // all pixels together first
  std::vector<SensorTemperatureRecord> temperatures;  // rising

  friend bool operator==(const SensorRecord&, const SensorRecord&) = default;
};

struct Products {
  std::vector<MasterRecord> masters;
  std::vector<PictureRecord> pictures;
  std::vector<CalibrationMasterRecord> calibration{};
  std::vector<SensorRecord> sensors{};
};

}  // namespace ng::store
