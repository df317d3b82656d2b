// astrometry/zero_point.h - the photometric zero point of a frame, and what the air took over a night.
//
//   catalogue magnitude = zero point + colour term (colour - its reference) - 2.5 log10(units per second)
// The reference colour is the mean of the stars used, where the zero point is known best. A colour term is only taken
// when it is there: 12 stars or more that spread over 0.3 mag in colour, and a slope of three standard deviations.
// Extinction: zero point = zero point at the zenith of no air - k X (Bouguer's law). Clouds are outliers to it.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "base/result.h"

namespace ng::astrometry {

struct PhotometryStar {
  double rate = 0;        // image units per second, above the sky
  double rate_error = 0;  // one standard deviation
  double magnitude = 0;   // of the catalogue
  std::optional<double> colour;
};

struct ZeroPoint {
  double magnitude = 0, error = 0;
  double scatter = 0;  // of one star, magnitudes
  std::optional<double> colour_term, colour_term_error;
  std::optional<double> colour;  // reference
  int stars = 0, outliers = 0;
};

// Errors: kTooFew (fewer than 3 stars).
[[nodiscard]] Result<ZeroPoint> zero_point(std::span<const PhotometryStar> stars);

struct AirmassPoint {
  double airmass = 1;
  double zero_point = 0, error = 0;
};

struct Extinction {
  double above_air = 0, above_air_error = 0;      // zero point without air, magnitudes
  double mag_airmass = 0, mag_airmass_error = 0;  // k
  double scatter = 0;
  int frames = 0, outliers = 0;
};

// Errors: kTooFew (fewer than 4 frames, or all within 0.1 airmasses).
[[nodiscard]] Result<Extinction> extinction(std::span<const AirmassPoint> frames);

// Faintest star whose flux is `sigmas` times its error. `noise` of one sky pixel in image units, over noise_area_px
// pixels; the star's own photons count where electrons_per_unit is known.
[[nodiscard]] double limiting_magnitude(double zero_point, double sigmas, double noise, double noise_area_px,
                                        double electrons_per_unit, double seconds);

}  // namespace ng::astrometry
