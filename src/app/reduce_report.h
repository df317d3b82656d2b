// app/reduce_report.h - what a reduction tells of its frames and of what it found.
#pragma once

#include <string>
#include <vector>

#include "app/light_frames.h"
#include "app/master_grid.h"
#include "app/reduce.h"

namespace ng::app {

// Of lights noisier or quieter than predicted: a gain that the header states wrongly shows there.
[[nodiscard]] std::vector<std::string> noise_notes(const std::vector<Light>& lights);

// Of a mosaic whose pattern its own stars contradict.
[[nodiscard]] std::vector<std::string> pattern_notes(const std::vector<Light>& lights);

// Of lens, panels, and lights that only the catalogues placed.
[[nodiscard]] std::vector<std::string> grid_notes(const MasterGrid& grid);

// The line of any frame; `used`: a calibration frame that calibrated some light.
[[nodiscard]] ReduceFrame frame_line(const InputFrame& f, bool used);

// What is known of a light beyond that.
void describe_light(const Light& light, const ReduceRequest& request, ReduceFrame& line);

}  // namespace ng::app
