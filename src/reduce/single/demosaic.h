// reduce/single/demosaic.h - three colours at every pixel of a frame taken through a Bayer mosaic.
//
// Method: D. Menon, S. Andriani & G. Calvagno 2007, "Demosaicing with directional filtering and a posteriori decision",
// IEEE Trans. Image Processing 16(1), 132-141, with its refining step. Green is interpolated along rows and along
// columns; of the two, the one whose colour differences vary less around the pixel is kept; red and blue follow from
// colour differences; all are refined by a low-pass filter of the colour differences along the chosen direction. (The
// weights of the 5 x 5 decision window are from memory.)
// Departure, for stars: a direction is taken alone only where it is 24 times quieter than the other (a clean edge);
// elsewhere the mean of both is. Round stars have no direction, and choosing one at every pixel bends their colours:
// with the plain rule the flux of a star of FWHM 3 px is wrong by up to 9 % in one channel, with this one by less than
// 1 % (test "keeps the flux of a star"), and the error on a field of stars falls as well.
//
// A second departure, also for stars: of the detail of the other colour (the second differences) green takes 2/3. With
// all of it the filter raises what is as wide as a star by up to a fifth (its response at a period of eight pixels is
// 1.21), with 2/3 by a twentieth at most.
// And a third: the colours are brought to one scale first, by what a usual star shows in them (ColourBalance). The
// method takes it that colours differ by something smooth. A star half as bright in blue as in green differs by half
// its own profile, which is not: without the balance its core comes out 1.2 to 1.3 times too bright in blue and its
// wings too faint (test "a star is alike in all its colours").
//
// Input is linear (electrons or ADU), calibrated, on one scale; negative values are fine. A pixel that is NaN is first
// replaced by the mean of the valid pixels of its own colour among its 5 x 5 neighbours. Where there are none, the NaN
// stays, and every output pixel that would depend on it (at most 8 pixels away) is NaN in the planes concerned: nothing
// is invented. Beyond the border the mosaic is mirrored around the outermost pixels, which keeps the colours in place.
#pragma once

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/bayer.h"

namespace ng::reduce {

// How far an output pixel depends on the mosaic, in each direction. A band that is demosaiced with this many rows more
// on each side (and bayer_shifted() of its first row) has, in its inner rows, the same bits as the whole frame.
inline constexpr int kDemosaicMargin = 10;

// Share of the second differences that green takes from the other colour.
inline constexpr float kDemosaicDetail = 0.25f * 2 / 3;

// Factors that bring red and blue of a usual star to its green.
struct ColourBalance {
  float red = 1, blue = 1;
};

// All views have one shape, at least 4 x 4 (kInvalidInput otherwise); outputs must not overlap the mosaic. Parallel
// over rows of tiles; the same bits for any pool. The other error is kCancelled.
[[nodiscard]] Result<void> demosaic_menon(View<const float> mosaic, BayerPattern pattern, const ColourBalance& balance,
                                          View<float> red, View<float> green, View<float> blue, const Context& ctx);

}  // namespace ng::reduce
