// reduce/stack/dither_cover.h - do the dithers spread a drizzle's drops evenly, before any pixel is read?
//
// The drops of all frames are laid on small patches of the output, spread over it as a grid, by the frames' maps alone.
// The weight W that a pixel collects, relative to the patch's mean, tells two things: where a plane gets nothing at
// all, and how uneven the rest is. Uneven weights cost depth: a patch whose W scatters by the share e is at most e^2
// noisier in variance than one that is even (derived: an input pixel counts 1 / W, and to first order the loss is the
// square of the scatter), and balancing the drops (drops.h) leaves about a third of that.
#pragma once

#include <span>

#include "reduce/stack/drops.h"

namespace ng::reduce {

struct DitherCover {
  double unevenness = 0;   // of the worst plane: rms scatter of W over its mean
  int plane = 0;           // the worst
  double empty_share = 0;  // of the output pixels of the worst plane, those with less than 5 % of the mean
  // Noise of a wide area over what the noise of its pixels suggests, on bare sky, of plane 0 or of green: with many
  // evenly spread dithers it is that of drizzle.h.
  double noise_correlation = 1;
};

// Patches that half of the frames of no panel see, or where one ends, are not counted. All zero, and empty_share 1,
// where nothing is left.
[[nodiscard]] DitherCover dither_cover(std::span<const DropFrame> frames, int width, int height, int planes);

}  // namespace ng::reduce
