// app/stack_input.h - the lights of one master, as the stacking wants them.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <vector>

#include "app/master_file.h"
#include "reduce/stack/integrate.h"

namespace ng::app {

[[nodiscard]] reduce::StackOptions stack_options(const MasterInput& input, const ReduceRequest& request);

// A colour in which stars are so faint beside green (through a narrow filter, say) is mostly noise: raised further, its
// noise would be in the others.
inline constexpr double kMostBalance = 4;

// What brings red and blue of the usual star of these lights to its green; 1 where no light knows.
[[nodiscard]] reduce::ColourBalance colour_balance(std::span<const Light* const> lights);

// Per colour, as PlaneScale holds it; 1 where the lights come from no mosaic.
[[nodiscard]] std::array<double, 3> demosaiced_variance(std::span<const Light* const> lights);

// Sources and maps stay the lights'.
[[nodiscard]] std::vector<reduce::StackFrame> stack_frames(const MasterInput& input);

// True where every light's files state their electrons per ADU: then the values are electrons.
// Value of a master's pixel from which on some frame was full there; nothing where no frame knows.
[[nodiscard]] std::optional<double> saturation_of(const MasterInput& input);
[[nodiscard]] bool gain_known(const MasterInput& input);

}  // namespace ng::app
