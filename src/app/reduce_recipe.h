// app/reduce_recipe.h - what is written beside a master: everything needed to make it again.
#pragma once

#include <string>
#include <vector>

#include "app/calibration_master.h"
#include "app/light_frames.h"
#include "app/message.h"
#include "app/reduce.h"

namespace ng::app {

// Onto the grid that the masters really have, drizzled or not.
[[nodiscard]] math::PlaneMap onto_master(const Light& light, const ReduceRequest& request);

// `used`: the lights that went in; `offered`: all that were meant for it; `calibration`: the frames that calibrated
// them, `masters`: what became of those.
[[nodiscard]] Json master_recipe(const ReduceRequest& request, const std::string& reference,
                                 const std::vector<const Light*>& used, const std::vector<const Light*>& offered,
                                 const std::vector<const InputFrame*>& calibration,
                                 const std::vector<CalibrationMaster>& masters);

}  // namespace ng::app
