// astrometry/solve.h - from the stars of a frame to its place on the sky.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "astrometry/search.h"
#include "astrometry/wcs_fit.h"

namespace ng::astrometry {

struct SolveOptions {
  // Chance that a frame without a solution is given one: see odds.h. Near a known place fewer stars must do.
  double false_alarm_blind = 1e-6;
  double false_alarm_near = 1e-4;
  OddsOptions odds;
  WcsFitOptions fit;
};

struct Hint {
  math::Vec3 centre{0, 0, 1};                      // of the frame
  double radius_rad = kPi;                         // within which it lies; pi: anywhere
  double low_scale_rad = 0.01 / kArcsecPerRadian;  // of a pixel
  double high_scale_rad = 1200 / kArcsecPerRadian;
};

struct Solution {
  std::size_t catalogue = 0;  // index into the list of catalogues: the one that the fit used
  Found found;
  WcsFit fit;
  bool blind = false;  // found without the place
};

// Errors: kTooFew (fewer than 4 stars, or no catalogue), kNoMatch (no place on the sky is believable), kCancelled.
[[nodiscard]] Result<Solution> solve(const Field& field, std::span<const catalog::SkyFile* const> skies, double year,
                                     const Hint& hint, const SolveOptions& options, const Context& ctx);

}  // namespace ng::astrometry
