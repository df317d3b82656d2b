// app/finish_steps.h - the steps of a recipe, run on channels in memory.
//
// Each function does one step as the recipe says, and writes into the recipe what it found. Notes are sentences for the
// person: what was doubtful, what was left out.
#pragma once

#include <optional>
#include <vector>

#include "app/finish_masters.h"
#include "app/recipe.h"
#include "finish/channels.h"

namespace ng::app {

using Notes = std::vector<std::string>;

// What the picture is made of once the channels have their roles.
struct Layers {
  std::optional<Channel> luminance;  // or the grey picture
  std::vector<Channel> rgb;          // three, or none
};

// Beside the values that stand in the recipe itself: what was measured on the way, for the reply.
struct FinishFound {
  std::vector<double> background_scatter_e;
  std::optional<double> sky_share;
  std::optional<double> red_error, blue_error;
  std::optional<int> balance_stars;
  std::optional<int> cores;
  std::optional<double> sky_e, sky_noise_e;
};

[[nodiscard]] Result<Region> crop_region(CropStep& step, const MasterSet& masters, const Context& ctx);
[[nodiscard]] Result<void> remove_background(BackgroundStep& step, std::vector<Channel>& channels, FinishFound& found,
                                             Notes& notes, const Context& ctx);
[[nodiscard]] Result<Layers> assign_channels(ChannelsStep& step, std::vector<Channel> channels, Notes& notes);
[[nodiscard]] Result<void> balance_colours(BalanceStep& step, Layers& layers, FinishFound& found, Notes& notes,
                                           const Context& ctx);
[[nodiscard]] Result<void> repair_cores(const CoresStep& step, Layers& layers, FinishFound& found);
// Noise reduction and, where there is a luminance, its union with the colours. What comes out is one plane (grey) or
// three: R - I, I, B - I (see finish/brightness.h).
[[nodiscard]] Result<std::vector<Image<float>>> merge_layers(const NoiseStep& step, Layers layers, const Context& ctx);
// From electrons to linear light for a display, in place.
[[nodiscard]] Result<void> tone(ToneStep& step, std::vector<Image<float>>& planes, FinishFound& found,
                                const Context& ctx);

}  // namespace ng::app
