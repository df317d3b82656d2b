// app/sensor_frames.h - frames of a camera test, sorted: settings, temperatures, exposures.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app/input_frames.h"

namespace ng::app {

// Frames of one exposure (flats: of one filter too), by index into the list of frames.
struct SensorStep {
  double exposure_s = 0;
  std::string filter;
  std::vector<std::size_t> frames;
};

struct SensorClimate {
  double temperature_c = 0;  // mean
  bool known = true;
  std::vector<std::size_t> bias;
  std::vector<SensorStep> darks, flats;  // by rising exposure
};

struct SensorGroup {
  std::size_t first = 0;                // a frame, for camera, gain, size ...
  std::vector<SensorClimate> climates;  // by rising temperature
};

// Frames that no camera test can use get their reason: lights, frames without kind or exposure, colour images.
[[nodiscard]] std::vector<SensorGroup> sort_sensor_frames(std::vector<InputFrame>& frames,
                                                          double temperature_tolerance_c);

}  // namespace ng::app
