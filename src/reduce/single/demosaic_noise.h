// reduce/single/demosaic_noise.h - how noisy interpolation makes what comes out of the demosaicing.
//
// Resampling predicts the variance of its result from the squares of its kernel, which is right for pixels that know
// nothing of each other. Demosaiced pixels do: three of four red ones were made of their neighbours of all colours.
#pragma once

#include <array>

#include "frame/bayer.h"
#include "reduce/single/demosaic.h"

namespace ng::reduce {

// Per colour: variance of values interpolated between demosaiced pixels (Lanczos-3, the mean over all places between
// pixels) over that of values interpolated between as many independent pixels that have the noise of the colour's own.
// `noise` is that of a pixel of each colour on bare sky. Told by demosaicing a frame of noise: good to a hundredth.
[[nodiscard]] std::array<double, 3> demosaic_noise(BayerPattern pattern, const ColourBalance& balance,
                                                   const std::array<double, 3>& noise);

// Variance of a wide sum over a demosaiced colour, over that over as many independent pixels: every measured pixel
// counts for as many as there are pixels to each of its colour.
[[nodiscard]] constexpr double demosaic_wide_variance(int plane) {
  return plane == 1 ? 2 : 4;
}

}  // namespace ng::reduce
