// math/star_match.h - finds the map between two lists of points that show, in part, the same stars.
//
// Patterns: triangles of neighbouring bright stars, described by two ratios of their sides, which no shift, rotation,
// scale or mirroring changes (Groth 1986, AJ 91, 1244; Valdes et al. 1995, PASP 107, 1119). Every pair of like
// triangles proposes a similarity; the one that brings the most stars of one list onto stars of the other wins (votes
// by verification rather than by counting triangles). A proposal is believed only if so many coincidences are
// improbable by chance: unrelated frames fail.
//
// Points are in pixels, brightest first, and should be stars: hot pixels stay put while the sky moves, and a map that
// explains them is wrong.
#pragma once

#include <span>
#include <vector>

#include "base/result.h"
#include "math/plane_map.h"

namespace ng::math {

struct StarMatchOptions {
  int brightest_from = 80;        // points of each list that form patterns; where one picture shows more of the sky
  int brightest_to = 80;          // than the other, more of its points must
  int neighbours = 6;             // each point forms triangles with pairs of this many nearest others
  double code_tolerance = 0.015;  // of the side ratios: a tenth of a pixel on triangles some ten pixels wide
  double tolerance_px = 3.0;      // how near a mapped point must come to count as the same star
  double min_scale = 0.2;         // limits of the scale of the map; both sides of 1 allow another camera
  double max_scale = 5.0;
  bool allow_mirror = true;
  double false_alarm = 1e-6;  // highest probability that chance alone explains the coincidences
};

struct StarPair {
  int from = 0;  // index in the first list
  int to = 0;    // index in the second
};

struct StarMatch {
  Affine map;                   // from the first list to the second
  std::vector<StarPair> pairs;  // among the brightest of each list
};

// Errors: kTooFew (fewer than 4 points in a list), kNoMatch.
[[nodiscard]] Result<StarMatch> match_stars(std::span<const Point> from, std::span<const Point> to,
                                            const StarMatchOptions& options);

// All pairs (from, to) that lie within tolerance of each other under the map: mutual nearest neighbours, in order of
// `from`.
[[nodiscard]] std::vector<StarPair> pair_stars(std::span<const Point> from, std::span<const Point> to,
                                               const PlaneMap& map, double tolerance_px);

}  // namespace ng::math
