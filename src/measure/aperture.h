// measure/aperture.h - the light of a star as a sum over a circle, with the noise that the CCD equation gives it.
//
// The circle's border cuts pixels exactly (math/circle_overlap.h). The sky comes from a ring, clipped from above so
// that stars in it do not count (math::sky_level). The CCD equation (Howell 1989, PASP 101, 616, with the terms for the
// estimated sky and for rounding of Merline & Howell 1995, Experimental Astronomy 6, 163):
//   sigma^2 = N + n (1 + n / n_B) (N_S + N_D + N_R^2 + (G sigma_f)^2)     [electrons]
// ccd_noise_e() predicts with it. measure_aperture() takes the bracket from the scatter of the ring instead, which
// holds all of its terms as they really are.
#pragma once

#include "base/image.h"
#include "math/transform.h"

namespace ng::measure {

struct CcdNoise {
  double star_e = 0;            // N, in the aperture
  double pixels = 0;            // n, of the aperture
  double sky_pixels = 0;        // n_B, of the ring
  double sky_e = 0;             // per pixel
  double dark_e = 0;            // per pixel
  double read_noise_e = 0;      // one pixel
  double gain_e_adu = 0;        // 0: no rounding
  double rounding_adu = 0.289;  // sigma_f: 1 / sqrt(12) for whole ADU
};
[[nodiscard]] double ccd_noise_e(const CcdNoise& terms);

struct ApertureSize {
  double radius_px = 0;
  double ring_inner_px = 0;
  double ring_outer_px = 0;
  // Radius 2 FWHM, ring from 4 to 6 and at least 5 wide; never less than 3 px, where pixels are coarse.
  [[nodiscard]] static ApertureSize for_fwhm(double fwhm_px);
};

struct Aperture {
  double flux = 0, error = 0;     // image units, less the sky; one standard deviation
  double area_px = 0;             // of the circle
  double sky = 0, sky_noise = 0;  // of one pixel in the ring
  double peak = 0;                // highest pixel of the circle, sky included
  bool cut = false;               // circle or ring leave the image, or hold an undefined pixel within the circle
};

// Around a centre (0-based pixels). electrons_per_unit 0: unknown; the star's own photons are left out of the error.
[[nodiscard]] Aperture measure_aperture(View<const float> image, math::Point centre, const ApertureSize& size,
                                        double electrons_per_unit);

}  // namespace ng::measure
