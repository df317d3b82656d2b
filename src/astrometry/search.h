// astrometry/search.h - proposals of where a frame may be on the sky, each put to the odds test (odds.h).
#pragma once

#include <optional>
#include <span>

#include "astrometry/odds.h"
#include "base/context.h"
#include "catalog/sky_file.h"

namespace ng::astrometry {

struct SearchLimits {
  double low_scale_rad = 0, high_scale_rad = 1;  // of a pixel
  // Where the middle of the frame may lie; radius pi: anywhere.
  math::Vec3 centre{0, 0, 1};
  double radius_rad = kPi;
};

struct Found {
  std::size_t catalogue = 0;  // index into the list of catalogues
  Pose pose;
  double log_odds = 0;
  double log_proposals = 0;  // natural logarithm of how many proposals chance had
  int matched = 0;
};

struct SearchOutcome {
  std::optional<Found> found;
  std::int64_t proposals = 0;  // put to the odds test
  double best_margin = -1e9;   // highest log_odds - log_proposals of all
};

// Anywhere within the limits. Fours of neighbouring bright stars of the frame, of its 8 brightest first, then of more,
// are looked up in the catalogues' patterns. false_alarm bounds the chance of a false solution for the whole search.
// Errors: kCancelled.
[[nodiscard]] Result<SearchOutcome> search_blind(const Field& field, std::span<const catalog::SkyFile* const> skies,
                                                 double year, const SearchLimits& limits, double false_alarm,
                                                 const OddsOptions& options, const Context& ctx);

// Near a known place: triangles of the frame's brightest stars against those of the catalogues' stars there. The chance
// proposals are counted as pairs of stars that could be laid upon each other within the limits; so the third star of
// the triangle counts as evidence, and four stars may be enough.
[[nodiscard]] Result<SearchOutcome> search_near(const Field& field, std::span<const catalog::SkyFile* const> skies,
                                                double year, const SearchLimits& limits, double false_alarm,
                                                const OddsOptions& options, const Context& ctx);

}  // namespace ng::astrometry
