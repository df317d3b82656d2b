// app/stack_input.h - the lights of one master, as the stacking wants them.
#pragma once

#include <optional>
#include <vector>

#include "app/master_file.h"
#include "reduce/stack/integrate.h"

namespace ng::app {

[[nodiscard]] reduce::StackOptions stack_options(const MasterInput& input, const ReduceRequest& request);

// Sources and maps stay the lights'.
[[nodiscard]] std::vector<reduce::StackFrame> stack_frames(const MasterInput& input);

// True where every light's files state their electrons per ADU: then the values are electrons.
// Value of a master's pixel from which on some frame was full there; nothing where no frame knows.
[[nodiscard]] std::optional<double> saturation_of(const MasterInput& input);
[[nodiscard]] bool gain_known(const MasterInput& input);

}  // namespace ng::app
