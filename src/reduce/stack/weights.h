// reduce/stack/weights.h - the weights of the mean that is as deep as it can be, for what the person looks for.
//
// Frame j on the common scale has variance u_j per master pixel and unit-flux profiles P_j. A mean with weights w_j
// (sum 1) has the profile sum w_j P_j and the variance sum w_j^2 u_j, so the squared signal-to-noise ratio of a star in
// it, found with the mean's own profile, is
//
//   w' C w / w' U w,   C_ij = integral of P_i P_j,  U = diag(u_j):
//
// largest for the leading eigenvector of U^-1 C (derived; all its entries have one sign, Perron's theorem, for C is
// positive). Profiles are taken as Gaussians of the measured width: C_ij = 1 / (2 pi (s_i^2 + s_j^2)), s = FWHM /
// 2.3548. Of an extended source every profile keeps all the light: C_ij = 1, and w_j is 1 / u_j.
#pragma once

#include <span>
#include <vector>

namespace ng::reduce {

enum class Aim { kExtended, kPoint };

struct FrameWorth {
  double variance = 1;  // of a master pixel of bare sky, on the common scale, before the resampling averages
  double fwhm_px = 0;   // of its stars in master pixels; 0 = not known: taken as the median of the others
};

// One weight per frame, the largest 1. Empty in, empty out.
[[nodiscard]] std::vector<double> best_weights(std::span<const FrameWorth> frames, Aim aim);

// Squared signal-to-noise ratio that each frame has alone, relative to the best: what its minutes were worth.
[[nodiscard]] std::vector<double> relative_information(std::span<const FrameWorth> frames, Aim aim);

}  // namespace ng::reduce
