// app/master_file.h - a master on disk: FITS with VARIANCE, COVERAGE and REJECTED.
#pragma once

#include <filesystem>
#include <span>
#include <string>
#include <vector>

#include "app/light_frames.h"
#include "app/message.h"
#include "app/reduce.h"
#include "app/scale_lights.h"
#include "app/solve_master.h"
#include "base/image.h"
#include "base/result.h"
#include "io/fits_writer.h"
#include "measure/stars.h"

namespace ng::app {

// File name without extension, from object and filter: letters and digits kept, the rest as '_'.
[[nodiscard]] std::string master_name(const std::string& object, const std::string& filter, int planes);

// Where the recipe of a master lies: beside it.
[[nodiscard]] std::filesystem::path master_recipe_path(const std::filesystem::path& master);

struct MasterInput {
  std::filesystem::path path;        // of the FITS file
  std::vector<const Light*> lights;  // accepted ones
  ScaleReferences scale_references;  // of its panels, the one that sets the scale first
  int width = 0;
  int height = 0;
  double feather_px = 0;  // reduce/stack/feather.h
  MasterPlace place;      // on the sky
  Json recipe;            // written beside as <path>.recipe.json
};

// Written, but neither safe on the disk nor measured.
struct StackedMaster {
  ReduceMaster told;        // everything of the reply but what measuring tells
  bool noise_told = false;  // or measuring does
  io::FitsWriter file;      // to be committed
  Image<float> picture;     // the plane to be measured
  measure::MeasureOptions measuring;
};

// Integrates or drizzles, and writes.
[[nodiscard]] Result<StackedMaster> stack_master(const MasterInput& input, const ReduceRequest& request,
                                                 io::Overwrite overwrite, std::vector<std::string>& notes,
                                                 const Context& ctx);

}  // namespace ng::app
