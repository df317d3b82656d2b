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

struct Products {
  std::vector<MasterRecord> masters;
  std::vector<PictureRecord> pictures;
  std::vector<CalibrationMasterRecord> calibration{};
};

}  // namespace ng::store
