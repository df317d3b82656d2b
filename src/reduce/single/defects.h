// reduce/single/defects.h - maps of pixels that do not measure light: hot, cold, dead.
#pragma once

#include <cstdint>
#include <span>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"

namespace ng::reduce {

struct DefectOptions {
  double dark_kappa = 12;       // a dark pixel this many robust sigma above its surroundings' median is hot
  float cold_response = 0.25f;  // a pixel of the normalised flat below this is cold
};

// From a master dark (ADU): hot pixels by their excess over the median of the frame. Empty views contribute nothing.
// `flat` is the normalised flat. Result: nonzero = defect. Errors: kCancelled.
[[nodiscard]] Result<Image<std::uint8_t>> defects_from_masters(View<const float> dark, View<const float> flat,
                                                               int width, int height, const DefectOptions& options,
                                                               const Context& ctx);
// The same from one master dark alone would miss pixels that flicker; without any dark the lights themselves tell: a
// defect is sharper than any star and stays at its place while the sky moves. Adds one to `votes` at every such spike
// of a frame: a pixel `kappa` noise above the median of its 8 neighbours (`step` away) whose four nearest neighbours
// hold less than a quarter of its height. Errors: kCancelled.
[[nodiscard]] Result<void> vote_spikes(View<const float> frame, float noise, int step, double kappa,
                                       View<std::uint8_t> votes, const Context& ctx);

}  // namespace ng::reduce
