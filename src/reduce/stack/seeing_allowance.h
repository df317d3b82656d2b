// reduce/stack/seeing_allowance.h - what a change of seeing makes of stars, so that no sharp frame's star is an
// outlier.
//
// A star of a given flux stands the higher the sharper the frame is, with 1 / FWHM^2 of any profile shape (the pixel
// included). In the median of frames whose FWHM runs from 2 to 5 px it is three times lower than in the sharpest: no
// slope tells that, for at the very peak there is none. What stands out of its surroundings is therefore allowed to
// differ by as much as the widths say; a nebula, which is as high in any seeing, does not stand out over so short a
// way. The price: on the core of a star a cosmic ray weaker than the star's own changes stays.
#pragma once

#include <span>

namespace ng::reduce {

struct SeeingSpread {
  double share = 0;  // of what stands out in the median picture: by so much the frames may differ from it; 0: none
  int reach_px = 1;  // to both sides along a row: there a star has all but ended
};

// `fwhm_px`: of the frames' stars, in pixels of the master; 0 or less: not known, left out of account.
[[nodiscard]] SeeingSpread seeing_spread(std::span<const double> fwhm_px);

// Adds in quadrature to the row `slope`, whose slope_allowance-fold is compared with kappa sigma (math/combine.h), what
// makes kappa times that product share x (how far `median` stands above the mean of the values reach_px to the left and
// to the right; 0 where it lies below, where any of the three is NaN, or at the border).
void add_seeing_allowance(std::span<const float> median, const SeeingSpread& spread, float kappa, float slope_allowance,
                          float* slope);

}  // namespace ng::reduce
