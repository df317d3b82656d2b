// frame/profile.h - the shape of a star: an elliptical Moffat profile, evaluated.
//
// I(x, y) = flux x (beta - 1) sqrt(det) / pi x (1 + q)^-beta,  q = cxx dx^2 + 2 cxy dx dy + cyy dy^2  (Moffat 1969, A&A
// 3, 455; the elliptical form as in Trujillo et al. 2001, MNRAS 328, 977). Large beta approaches a Gaussian.
// Integration over a pixel: 2 x 2 Gauss-Legendre points, exact to third order; for FWHM of 2 px the peak pixel is right
// to 0.2 %.
#pragma once

#include <array>
#include <cmath>

#include "base/angle.h"

namespace ng {

struct Profile {
  double cxx = 1, cyy = 1, cxy = 0;  // 1 / px^2
  double beta = 3.5;

  [[nodiscard]] static Profile round(double fwhm_px, double beta) {
    const double alpha = fwhm_px / (2 * std::sqrt(std::exp2(1 / beta) - 1));
    return {1 / (alpha * alpha), 1 / (alpha * alpha), 0, beta};
  }

  [[nodiscard]] double determinant() const { return cxx * cyy - cxy * cxy; }
  // Height of the peak for flux 1.
  [[nodiscard]] double peak() const { return (beta - 1) * std::sqrt(determinant()) / kPi; }
  [[nodiscard]] double at(double dx, double dy) const {
    return peak() * std::pow(1 + cxx * dx * dx + 2 * cxy * dx * dy + cyy * dy * dy, -beta);
  }
  // Mean over the pixel whose centre is (dx, dy) away from the star.
  [[nodiscard]] double over_pixel(double dx, double dy) const {
    constexpr double h = 0.28867513459481287;  // 1 / (2 sqrt 3)
    return 0.25 * (at(dx - h, dy - h) + at(dx + h, dy - h) + at(dx - h, dy + h) + at(dx + h, dy + h));
  }

  // Full widths at half maximum along the two axes, larger first; their geometric mean; and the shape.
  [[nodiscard]] std::array<double, 2> fwhm_axes_px() const {
    const double mean = (cxx + cyy) / 2;
    const double split = std::hypot((cxx - cyy) / 2, cxy);
    const double k = 2 * std::sqrt(std::exp2(1 / beta) - 1);
    return {k / std::sqrt(mean - split), k / std::sqrt(mean + split)};
  }
  [[nodiscard]] double fwhm_px() const { return 2 * std::sqrt((std::exp2(1 / beta) - 1) / std::sqrt(determinant())); }
  [[nodiscard]] double eccentricity() const {
    const auto axes = fwhm_axes_px();
    return std::sqrt(std::max(0.0, 1 - axes[1] * axes[1] / (axes[0] * axes[0])));
  }
  // Direction of the longer axis from x towards y, in (-pi/2, pi/2].
  [[nodiscard]] double angle_rad() const { return 0.5 * std::atan2(-2 * cxy, cyy - cxx); }
  // Radius that holds half of the flux of the round profile of the same area (before pixel integration).
  [[nodiscard]] double half_flux_radius_px() const {
    return std::sqrt((std::exp2(1 / (beta - 1)) - 1) / std::sqrt(determinant()));
  }
  // Noise-equivalent area in pixels: pi (2 beta - 1) / (beta - 1)^2 alpha^2 (King 1983, PASP 95, 163, for Moffat).
  [[nodiscard]] double noise_area_px() const {
    return kPi * (2 * beta - 1) / ((beta - 1) * (beta - 1)) / std::sqrt(determinant());
  }
};

}  // namespace ng
