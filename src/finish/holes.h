// finish/holes.h - bridges the pixels that no frame has seen, so that what follows need not think of them.
//
// A pyramid of halved pictures, each the mean of the known pixels of the finer one; holes are then filled from coarse
// to fine by bilinear interpolation ("pull-push": Gortler, Grzeszczuk, Szeliski & Cohen 1996, "The Lumigraph", SIGGRAPH
// 96, section 3.4). Known pixels keep their bits.
#pragma once

#include "base/image.h"

namespace ng::finish {

// Replaces every NaN; returns how many there were. An image without any known pixel becomes 0.
int fill_holes(View<float> image);

}  // namespace ng::finish
