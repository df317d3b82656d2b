// finish/star_cores.h - bright star cores get the colour of their own flank.
//
// Where a star saturated, the channels were cut at different heights: after the colour balance its core would shine in
// a colour that no star has, with rings around it. The flank just outside was not cut. Pixels above a share of a
// channel's highest level form cores; each core, with a margin, keeps its brightness (the mean of the channels) and
// takes the channel ratios of the ring around it. A bright star that was not saturated loses nothing by that.
#pragma once

#include <array>

#include "base/image.h"

namespace ng::finish {

struct CoreOptions {
  double level_share = 0.5;  // of the channel's highest level; flat fielding leaves saturated plateaus that uneven
  int margin_px = 2;         // interpolation spreads the cut by the reach of its kernel
  int ring_px = 3;           // width of the flank that gives the colour
};

// The 20th highest value of an image: the highest may be defects, and the plateau of a saturated star has more pixels.
[[nodiscard]] float highest_level(View<const float> image);

// Channels R, G, B with their sky at 0. Returns the number of cores repaired.
int repair_star_cores(std::array<View<float>, 3> rgb, const CoreOptions& options);

}  // namespace ng::finish
