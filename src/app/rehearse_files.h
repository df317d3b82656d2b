// app/rehearse_files.h - the frames of a rehearsed night as FITS files.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"
#include "frame/facts.h"
#include "simulate/night.h"

namespace ng::app {

// One file to write. Paths are relative to the output folder: light/light_L_0001.fits, dark/dark_0001.fits,
// flat/flat_L_0001.fits, bias/bias_0001.fits, dark-flat/dark-flat_0001.fits. A mosaic night has no filter in its names.
struct RehearsedFrame {
  FrameKind kind = FrameKind::kLight;
  int filter = 0;  // index into Scenario::filters; of lights and flats
  int number = 1;  // within its kind and filter
  int light = -1;  // index of the light plan
  std::filesystem::path path;
};

[[nodiscard]] std::vector<RehearsedFrame> frames_of(const simulate::Night& night);

[[nodiscard]] Result<void> write_frame(const simulate::Night& night, const RehearsedFrame& frame,
                                       const std::filesystem::path& out, const Context& ctx);
// Stars and nebula without noise on the grid of the frame's light, float, electrons in one sub-exposure.
[[nodiscard]] Result<void> write_truth_image(const simulate::Night& night, const RehearsedFrame& frame,
                                             const std::filesystem::path& path, const Context& ctx);

}  // namespace ng::app
