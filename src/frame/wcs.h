// frame/wcs.h - where a frame's pixels lie on the sky, and back.
//
// Tangent plane ("TAN", Calabretta & Greisen 2002, A&A 395, 1077, section 5.1.3) with a linear map to it (Greisen &
// Calabretta 2002, A&A 395, 1061), and where stars asked for it a polynomial of the pixel offsets before that map (SIP:
// Shupe et al. 2005, ASP Conf. 347, 491):
//   u = x - reference_x, v = y - reference_y;  U = u + sum A_pq u^p v^q,  V = v + sum B_pq u^p v^q  (2 <= p+q <= order)
//   (xi, eta) = CD (U, V), xi towards east, eta towards north, on the plane that touches the sky at (ra, dec).
// The way back uses the polynomials AP, BP as a first guess and refines it by Newton's method: both ways agree to 1e-9
// px.
//
// Pixels are 0-based here: FITS headers count from 1 (CRPIX = reference + 1).
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "math/transform.h"

namespace ng {

// Coefficients of u^p v^q for p + q <= order, in the order (0,0) (1,0) (0,1) (2,0) (1,1) (0,2) (3,0) ...
struct PlanePolynomial {
  int order = 0;
  std::vector<double> coefficients;  // (order + 1)(order + 2) / 2, or empty for none
  [[nodiscard]] double at(double u, double v) const;
  [[nodiscard]] static std::size_t index(int p, int q) {
    return static_cast<std::size_t>((p + q) * (p + q + 1) / 2 + q);
  }
  [[nodiscard]] static std::size_t count(int order_) {
    return static_cast<std::size_t>((order_ + 1) * (order_ + 2) / 2);
  }
};

struct SkyPlace {
  double ra_rad = 0;  // [0, 2 pi)
  double dec_rad = 0;
};

struct Wcs {
  double reference_x = 0, reference_y = 0;   // 0-based pixels
  double ra_rad = 0, dec_rad = 0;            // of the reference pixel, ICRS
  std::array<double, 4> cd_rad{1, 0, 0, 1};  // CD1_1 CD1_2 CD2_1 CD2_2, radians per pixel
  PlanePolynomial a, b;                      // distortion; no coefficients where there is none
  PlanePolynomial ap, bp;                    // its approximate inverse, as SIP defines it

  [[nodiscard]] bool distorted() const { return !a.coefficients.empty() || !b.coefficients.empty(); }
  [[nodiscard]] SkyPlace sky_of(math::Point pixel) const;
  // Nothing for a direction 90 degrees or more from the reference, or where the polynomial cannot be inverted.
  [[nodiscard]] std::optional<math::Point> pixel_of(SkyPlace place) const;

  // Of the linear part: geometric mean scale in radians per pixel; position angle of the direction in which y falls
  // (the top of a picture whose first row is at the top), from north through east, in [0, 2 pi); and whether that
  // picture shows the sky as in a mirror.
  [[nodiscard]] double scale_rad() const;
  [[nodiscard]] double top_angle_rad() const;
  [[nodiscard]] bool mirrored() const;
};

}  // namespace ng
