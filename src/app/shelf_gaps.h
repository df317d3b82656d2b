// app/shelf_gaps.h - where the shelf has a gap: what lies there and does not fit, and what darks that are not there
// cost.
#pragma once

#include <string>
#include <vector>

#include "app/calibration_rule.h"
#include "app/shelf_cost.h"
#include "rig/sensor.h"
#include "store/library_index.h"

namespace ng::app {

// How many frames of the wanted kind one thing alone keeps from being used, and which thing; empty: none.
[[nodiscard]] std::string near_misses(const CalibrationFacts& wanted, const std::vector<store::LibraryFrame>& frames,
                                      const CalibrationTolerance& tolerance);

// What it costs that only `have` of `count` darks are there, one sentence each; where none is there also what the
// nearest one would cost that differs in temperature alone, else in exposure alone. `wanted` states exposure and
// temperature.
[[nodiscard]] std::vector<std::string> cost_of_darks(const CalibrationFacts& wanted, int have, int count,
                                                     const SubNoise& light, const rig::Sensor& sensor,
                                                     const std::vector<store::LibraryFrame>& frames,
                                                     const CalibrationTolerance& tolerance);

}  // namespace ng::app
