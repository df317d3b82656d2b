// reduce/stack/register.h - the exact map from one frame to another, from their star lists.
//
// The pattern match gives the beginning (math/star_match.h); then all good stars are paired and the map is fitted by
// robust least squares with the centroids' own errors. Similarity, affine map, homography, or homography with a cubic
// bend (math/bend.h: lenses, tilted or curved sensors): the simplest whose five-fold cross-validated residual is not
// improved by 2 % by the next. A bend is only looked for where the residual is more than the centroids explain.
#pragma once

#include "base/result.h"
#include "frame/star_list.h"
#include "math/plane_map.h"

namespace ng::reduce {

struct Registration {
  math::PlaneMap map;      // frame pixels -> reference pixels
  int pairs = 0;           // stars that carry the fit
  double residual_px = 0;  // rms per axis of the pairs after the fit
  double expected_px = 0;  // what the centroid errors alone would leave
};

// Errors: kTooFew, kNoMatch.
[[nodiscard]] Result<Registration> register_stars(const StarList& frame, const StarList& reference);

// The same for pictures that may share no more than a strip along one side, as the panels of a mosaic do: patterns are
// looked for among the stars along each side of the one and each side of the other. Slower, and no map is believed that
// fewer than 8 stars carry, nor a bend looked for. Errors: as above.
[[nodiscard]] Result<Registration> register_neighbours(const StarList& frame, const StarList& reference);

// Where the map is known to some pixels already, as from two solved frames: no pattern is looked for. Errors: kNoMatch
// (fewer than 8 stars coincide).
[[nodiscard]] Result<Registration> register_near(const StarList& frame, const StarList& reference,
                                                 const math::PlaneMap& guess);

}  // namespace ng::reduce
