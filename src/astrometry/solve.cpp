#include "astrometry/solve.h"

#include <algorithm>
#include <cmath>

namespace ng::astrometry {
namespace {

// A hint this narrow makes the search by triangles quick; otherwise all patterns are looked up and filtered.
bool is_narrow(const Hint& hint, const Field& field) {
  const double frame = field.diagonal_px() * hint.high_scale_rad;
  return hint.radius_rad < 0.2 && hint.radius_rad < 8 * frame && hint.high_scale_rad < 1.6 * hint.low_scale_rad;
}

}  // namespace

Result<Solution> solve(const Field& field, std::span<const catalog::SkyFile* const> skies, double year,
                       const Hint& hint, const SolveOptions& options, const Context& ctx) {
  if (field.stars.size() < 4)
    return Error(Code::kTooFew, "the frame shows " + std::to_string(field.stars.size()) +
                                    " stars, and a place on the sky needs at least 4");
  const SearchLimits limits{hint.low_scale_rad, hint.high_scale_rad, hint.centre, hint.radius_rad};
  Solution solution;
  SearchOutcome outcome;
  if (is_narrow(hint, field)) {
    NG_TRY(outcome, search_near(field, skies, year, limits, options.false_alarm_near, options.odds, ctx));
  }
  if (!outcome.found) {
    NG_TRY(outcome, search_blind(field, skies, year, limits, options.false_alarm_blind, options.odds, ctx));
    solution.blind = true;
  }
  if (!outcome.found)
    return Error(Code::kNoMatch, "the " + std::to_string(field.stars.size()) +
                                     " stars of the frame form no pattern of the catalogues that could not be chance");
  solution.found = *outcome.found;

  // The catalogue that knew the place need not be the best for the fit.
  std::optional<Error> why;
  for (std::size_t s = 0; s < skies.size(); ++s) {
    auto fit = fit_wcs(field, *skies[s], year, solution.found.pose, options.fit);
    if (!fit.ok()) {
      why = std::move(fit).error();
    } else if (fit->matched.size() > solution.fit.matched.size()) {
      solution.fit = std::move(fit).value();
      solution.catalogue = s;
    }
  }
  if (solution.fit.matched.empty()) return *why;
  return solution;
}

}  // namespace ng::astrometry
