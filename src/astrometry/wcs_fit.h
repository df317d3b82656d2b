// astrometry/wcs_fit.h - from a pose to the exact solution: all stars, robust least squares, distortion where it shows.
//
// The plane coordinates of the matched stars are fitted as polynomials of the pixel offsets from the frame's middle;
// the plane is moved until its point of contact is that middle. Degree 1 is TAN; degrees 2 to 5 give SIP distortion
// (see frame/wcs.h). Weights: 1 / (centroid error^2 + catalogue error^2), times Tukey's biweight of the residual
// (Beaton & Tukey 1974, Technometrics 16, 147). Matching and fitting alternate while the tolerance shrinks to what the
// residuals ask for.
//
// Degree by cross-validation: the stars are dealt into ten parts, each predicted from the other nine; a higher degree
// is taken only if it predicts better by 2 per cent or more, and if there are three stars or more for every term.
#pragma once

#include <vector>

#include "astrometry/field.h"
#include "astrometry/pose.h"
#include "base/result.h"
#include "catalog/sky_file.h"
#include "frame/wcs.h"

namespace ng::astrometry {

struct MatchedStar {
  int seen = 0;  // index into the field's stars
  catalog::SkyStar star;
  double dx_px = 0, dy_px = 0;  // measured minus fitted
  double error_px = 0;          // expected, one axis: centroid and catalogue
  bool outlier = false;         // weight zero in the fit
};

struct WcsFit {
  Wcs wcs;
  int degree = 1;
  std::vector<MatchedStar> matched;
  double rms_px = 0;           // of one axis, outliers left out
  double expected_rms_px = 0;  // of one axis, from the errors of centroids and catalogue
  // One standard deviation each. Centre: both directions alike.
  double centre_error_rad = 0;
  double scale_error = 0;  // relative
  double rotation_error_rad = 0;
};

struct WcsFitOptions {
  std::size_t most_stars = 2000;  // of the catalogue on the frame
  int highest_degree = 5;
  double centroid_floor_px = 0.05;  // no centroid is better than this
};

// Errors: kTooFew (fewer than 3 stars can be matched).
[[nodiscard]] Result<WcsFit> fit_wcs(const Field& field, const catalog::SkyFile& sky, double year, const Pose& pose,
                                     const WcsFitOptions& options);

}  // namespace ng::astrometry
