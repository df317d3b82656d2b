// simulate/seeing_profile.h - the picture of a point: a Moffat profile, oval, integrated over the pixels.
//
// I(u) = (beta - 1) / (pi a b) (1 + p^2/a^2 + q^2/b^2)^-beta (Moffat 1969, A&A 3, 455), p and q along the axes of the
// oval. FWHM of an axis = 2 a sqrt(2^(1/beta) - 1), before pixel integration. Pixels take the mean over their square by
// Gauss-Legendre points, 4 x 4 in rows through the core, fewer in rows further out; for FWHM >= 1.5 px the pixels
// together hold the light to 1e-4 (tested).
#pragma once

#include <algorithm>
#include <cmath>

#include "base/image.h"

namespace ng::simulate {

struct SeeingProfile {
  double beta = 3.5;
  double fwhm_major_px = 0;
  double fwhm_minor_px = 0;
  double angle_rad = 0;  // major axis, from x towards y

  [[nodiscard]] double fwhm_px() const;                 // geometric mean of the axes
  [[nodiscard]] double core_px() const;                 // geometric mean of a and b
  [[nodiscard]] double peak() const;                    // at the centre, per px^2, of a star of one electron
  [[nodiscard]] double at(double dx, double dy) const;  // per px^2, of a star of one electron
  // Radius at which a star of so many electrons falls below `floor_e` per pixel.
  [[nodiscard]] double radius_px(double electrons, double floor_e) const;
};

// Adds stars to rows of an image. Made once per frame.
class StarPainter {
 public:
  explicit StarPainter(const SeeingProfile& profile);

  struct Spot {
    double x = 0, y = 0;   // centre, 0-based pixels of the whole frame
    float electrons[3]{};  // by colour channel; a mono frame uses the first
    float radius_px = 0;
  };
  // `rows` are rows y0, y0 + 1, ... of the frame. channel(x, y) chooses among the electrons of the spot.
  template <typename Channel>
  void add(const Spot& spot, int y0, View<float> rows, const Channel& channel) const {
    const double r = spot.radius_px;
    const int top = std::max(y0, static_cast<int>(std::ceil(spot.y - r)));
    const int bottom = std::min(y0 + rows.height - 1, static_cast<int>(std::floor(spot.y + r)));
    for (int y = top; y <= bottom; ++y) {
      const double half = std::sqrt(std::max(0.0, r * r - (y - spot.y) * (y - spot.y)));
      const int left = std::max(0, static_cast<int>(std::ceil(spot.x - half)));
      const int right = std::min(rows.width - 1, static_cast<int>(std::floor(spot.x + half)));
      float* row = rows.row(y - y0);
      float shares[kAtOnce];
      for (int begin = left; begin <= right; begin += kAtOnce) {
        const int count = std::min(kAtOnce, right - begin + 1);
        row_shares(static_cast<float>(begin - spot.x), static_cast<float>(y - spot.y), count, shares);
        for (int i = 0; i < count; ++i) row[begin + i] += spot.electrons[channel(begin + i, y)] * shares[i];
      }
    }
  }
  static constexpr int kAtOnce = 64;
  // Share of the light in each of `count` (up to kAtOnce) pixels of a row; the first one's centre lies (dx, dy) from
  // the star.
  void row_shares(float dx, float dy, int count, float* shares) const;

 private:
  template <int kPoints>
  void integrate(float dx, float dy, int count, float* shares) const;

  float xx_ = 0, xy_ = 0, yy_ = 0, norm_ = 0, beta_ = 0;
  bool half_whole_ = false;  // beta = 3.5, the usual: two multiplications and a root
};

}  // namespace ng::simulate
