// reduce/stack/profile_transform.h - the Fourier transform of a frame's profile on a tile of the master's grid.
//
// In closed form. An elliptical Moffat profile with S = C^-1 (frame/profile.h) has, with s^2 = k' S k and nu = beta -
// 1,
//   G(s) = s^nu K_nu(s) / (2^(nu - 1) Gamma(nu)),  G(0) = 1
// (K: the modified Bessel function; Gradshteyn & Ryzhik, integral 6.565.4, from memory, tested against the plain sum).
// A pixel of the frame multiplies it by sinc(kx / 2) sinc(ky / 2). Bringing the frame onto the master's grid adds the
// kernel of the interpolation: averaged over the places between pixels, signal is multiplied by L(kx) L(ky), L the
// transform of the kernel, and white noise of variance v gets the power v N(kx) N(ky), N(k) = sum over m of
// L(k + 2 pi m)^2. Of a star of FWHM 2 px that takes 0.04 % of the information, and nothing of wider ones. Everything
// in the frame's own wave numbers: k_frame = J' k_master, J the linear part of frame -> master.
#pragma once

#include <vector>

#include "frame/profile.h"
#include "math/transform.h"

namespace ng::reduce {

// One value per column of the half spectrum of one row.
struct ProfileRow {
  float* signal = nullptr;  // transform of the profile in the resampled frame: 1 at k = 0, never below 1e-12
  float* noise = nullptr;   // power of the resampled noise over its variance before: 1 at k = 0
};

// A function of |x| between 0 and `end`, by straight lines through a table; its last value beyond.
class EvenTable {
 public:
  template <typename Function>
  EvenTable(double end, int steps, const Function& function) : per_unit_(static_cast<float>(steps / end)) {
    for (int i = 0; i <= steps + 1; ++i) values_.push_back(static_cast<float>(function(end * i / steps)));
    last_ = static_cast<float>(steps);
  }
  [[nodiscard]] float at(float x) const {  // x >= 0
    const float t = x * per_unit_ < last_ ? x * per_unit_ : last_;
    const int i = static_cast<int>(t);
    const float f = t - static_cast<float>(i);
    return values_[static_cast<std::size_t>(i)] * (1 - f) + values_[static_cast<std::size_t>(i) + 1] * f;
  }

 private:
  std::vector<float> values_;
  float per_unit_, last_;
};

// Transform of the round Moffat profile, G above; by itself for the tests.
[[nodiscard]] double moffat_transform(double s, double beta);

// Pixel and interpolation along one axis, for wave numbers up to 4 pi; one for all frames.
struct GridResponse {
  EvenTable signal;  // sinc(k / 2) L(k)
  EvenTable noise;   // N(k)

  [[nodiscard]] static GridResponse lanczos();  // L of the kernel of math/lanczos.h
  [[nodiscard]] static GridResponse plain();    // frames that are on the grid as they are: L = N = 1
};

// For one frame; the concentration is the same all over it.
class ProfileTransform {
 public:
  explicit ProfileTransform(double beta);

  // Row j of the half spectrum of a tile of `side` pixels; `to_master` is the tangent map at the tile's middle.
  void row(const Profile& profile, const math::Affine& to_master, const GridResponse& grid, int side, int j,
           const ProfileRow& out) const;

 private:
  EvenTable moffat_;
};

}  // namespace ng::reduce
