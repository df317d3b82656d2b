// math/lanczos.h - the Lanczos-3 kernel as polynomials of the place between two pixels.
//
// L(x) = sinc(x) sinc(x/3) for |x| < 3 (Duchon 1979, J. Appl. Meteorology 18, 1016; Turkowski 1990, Graphics Gems I).
// Six taps at pixels -2 ... +3 around floor(x), each set of weights normalised to sum 1, so that a constant stays
// constant and flux is conserved on a grid of the same scale. With g = x - floor(x) - 1/2, tap k and its mirror 5 - k
// are E_k(g^2) + g O_k(g^2) and E_k(g^2) - g O_k(g^2), E and O of degree 4: right to 4e-7 (lanczos_test.cpp),
// which is 0.03 electrons on a full pixel, and evaluated for many pixels at once.
#pragma once

#include <array>

namespace ng::math {

struct LanczosPolynomials {
  static constexpr int kTaps = 6;
  static constexpr int kPairs = kTaps / 2;
  static constexpr int kTerms = 5;
  using Terms = std::array<float, kTerms>;  // of g^0, g^2, g^4 ...

  LanczosPolynomials();

  std::array<Terms, kPairs> even;
  std::array<Terms, kPairs> odd;
};

}  // namespace ng::math
