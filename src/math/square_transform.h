// math/square_transform.h - the Fourier transform of a square tile of real numbers, and back.
//
// Forward: F(kx, ky) = sum f(x, y) exp(-i (kx x + ky y)), without a factor; inverse divides by side^2. Only the half
// with kx >= 0 is held: `side / 2 + 1` columns; row j stands for ky = 2 pi j / side, above the middle for j - side.
// FFTW (Frigo & Johnson 2005, Proc. IEEE 93, 216), with plans that are estimated rather than timed: the bits do not
// depend on what else the machine is doing.
#pragma once

#include <complex>
#include <memory>

#include "base/image.h"

namespace ng::math {

using Spectrum = Image<std::complex<float>>;

class SquareTransform {
 public:
  explicit SquareTransform(int side);  // a multiple of 16: rows then follow each other without gaps
  ~SquareTransform();
  SquareTransform(const SquareTransform&) = delete;
  SquareTransform& operator=(const SquareTransform&) = delete;

  [[nodiscard]] int side() const { return side_; }
  [[nodiscard]] Image<float> tile() const { return {side_, side_}; }
  [[nodiscard]] Spectrum spectrum() const { return {side_ / 2 + 1, side_}; }

  // Tiles and spectra must come from tile() and spectrum(). Any number of threads at once.
  void forward(const Image<float>& tile, Spectrum& out) const;
  void inverse(Spectrum& spectrum, Image<float>& out) const;  // destroys the spectrum

 private:
  struct Plans;
  int side_;
  std::unique_ptr<Plans> plans_;
};

}  // namespace ng::math
