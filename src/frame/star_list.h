// frame/star_list.h - what was measured of the stars of one frame. Plain numbers, shared by measure, reduce and app.
//
// Positions are 0-based pixels. Fluxes are in the units of the image (electrons after calibration).
#pragma once

#include <cstdint>
#include <vector>

namespace ng {

enum StarFlag : std::uint32_t {
  kStarSaturated = 1u << 0,  // at least one pixel of the core is at or above the saturation level
  kStarBlended = 1u << 1,    // another star within the fitting radius
  kStarEdge = 1u << 2,       // the fitting box was cut by the image border
  kStarPoorFit = 1u << 3,    // the fit did not converge or leaves large residuals
  kStarBadPixels = 1u << 4,  // undefined or defective pixels inside the fitting box
};

struct Star {
  double x = 0, y = 0;                    // centre, 0-based pixels
  double x_error = 0, y_error = 0;        // one standard deviation
  double flux = 0, flux_error = 0;        // background-free total
  double peak = 0;                        // highest pixel above the background
  double background = 0;                  // per pixel, under the star
  double fwhm_px = 0, fwhm_error_px = 0;  // geometric mean of the two axes
  double half_flux_radius_px = 0;
  double eccentricity = 0;  // sqrt(1 - (minor/major)^2)
  double angle_rad = 0;     // major axis, from x towards y, in (-pi/2, pi/2]
  std::uint32_t flags = 0;

  [[nodiscard]] bool has(StarFlag flag) const { return (flags & flag) != 0; }
  [[nodiscard]] double snr() const { return flux_error > 0 ? flux / flux_error : 0; }
};

struct StarList {
  int width = 0;  // of the frame that the stars were measured on
  int height = 0;
  std::vector<Star> stars;  // brightest first
};

// One frame in a few numbers: medians over its good stars.
struct FrameQuality {
  int stars = 0;       // detections
  int good_stars = 0;  // unsaturated, isolated, SNR above 20: the medians below come from them
  double fwhm_px = 0;
  double half_flux_radius_px = 0;
  double eccentricity = 0;
  double background = 0;  // median sky per pixel
  double noise = 0;       // standard deviation of the sky, one pixel
};

}  // namespace ng
