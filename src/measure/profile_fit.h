// measure/profile_fit.h - fits one elliptical Moffat profile to one star.
//
// Maximum likelihood in the limit of many electrons: least squares with the variance of the noise model, taken from the
// model of the previous step rather than from the data (weights from data bias the flux low; Mighell 1999, ApJ 518,
// 380), by Levenberg-Marquardt (Marquardt 1963, J. SIAM 11, 431) with steps that turn back shortened. Pixel integration
// as in frame/profile.h, so that the widths are those of the light before the pixels: a little less than what moments
// of the picture give. Pixels that are NaN or saturated are left out.
#pragma once

#include <cstdint>

#include "base/image.h"
#include "frame/profile.h"

namespace ng::measure {

struct PixelNoise {
  double sky_sigma = 1;           // standard deviation of one pixel of bare sky, in image units
  double electrons_per_unit = 1;  // 0 = unknown: photon noise of the star is then left out
  double saturation = 1e30;       // values at or above are no measurement, in image units with the background
};

enum class Shape : std::uint8_t {
  kFixed,     // position, flux and local background only
  kFree,      // and the ellipse
  kFreeBeta,  // and the concentration
};

struct FitStart {
  double x = 0, y = 0;  // pixels
  double background = 0;
  double flux = 0;
  Profile profile;
  Shape shape = Shape::kFree;
  int radius_px = 8;  // of the disc of pixels that are used
};

struct ProfileFit {
  double x = 0, y = 0, x_error = 0, y_error = 0;
  double flux = 0, flux_error = 0;
  double background = 0;
  Profile profile;
  double fwhm_error_px = 0;  // 0 when the shape was fixed
  double chi2_dof = 0;
  int pixels = 0;
  bool converged = false;
  bool cut = false;         // the disc was cut by the image border
  bool saturated = false;   // at least one pixel was left out as saturated
  bool bad_pixels = false;  // at least one pixel was NaN
};

// `blocked`, when not empty, has the size of the box around the disc (2 radius + 1) and marks pixels that belong to a
// neighbour. A fit that fails has converged = false and flux 0; there is no other error.
[[nodiscard]] ProfileFit fit_profile(View<const float> image, const PixelNoise& noise, const FitStart& start,
                                     View<const std::uint8_t> blocked);

}  // namespace ng::measure
