// store/product_records.h - masters and pictures as the library keeps them: what they are, and what they were made of.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace ng::store {

struct RecipeInputRecord {
  std::string role;  // "light", "calibration", "master"
  std::string hash;  // XXH3-128 of the content that it had
};

struct RecipeRecord {
  std::string path;  // below the workspace
  std::string hash;
  std::vector<RecipeInputRecord> inputs;
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

struct Products {
  std::vector<MasterRecord> masters;
  std::vector<PictureRecord> pictures;
};

}  // namespace ng::store
