#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "astrometry/search.h"
#include "catalog/star_code.h"

namespace ng::astrometry {
namespace {

using catalog::CodedFour;

constexpr std::array<std::size_t, 6> kBrightest{8, 12, 18, 27, 40, 60};
constexpr int kNeighbours = 7;  // of the frame's stars; those of the catalogue's patterns have stars between them here
constexpr double kShortest = 0.03;  // of the frame's diagonal: smaller patterns are spoilt by centroid errors

// Half the size of the region of codes that may be the same pattern: distortion and projection, and centroids.
double code_tolerance(double longest_px) {
  return std::min(0.02, 0.005 + 1.0 / longest_px);
}

class Search {
 public:
  Search(const Field& field, std::span<const catalog::SkyFile* const> skies, double year, const SearchLimits& limits,
         double false_alarm, const OddsOptions& options)
      : field_(field),
        skies_(skies),
        year_(year),
        limits_(limits),
        log_alarm_(-std::log(false_alarm)),
        test_(field, options) {}

  Result<SearchOutcome> run(const Context& ctx) {
    for (std::size_t step = 0; step < kBrightest.size() && !outcome_.found; ++step) {
      const std::size_t count = std::min(kBrightest[step], field_.stars.size());
      if (step > 0 && count == std::min(kBrightest[step - 1], field_.stars.size())) break;
      const auto points = places(std::span(field_.stars).first(count));
      const math::PointIndex index(points);
      for (int i = 0; i < static_cast<int>(count) && !outcome_.found; ++i) {
        if (ctx.cancelled()) return Error(Code::kCancelled, "cancelled");
        look_around(i, points, index);
      }
    }
    return outcome_;
  }

 private:
  void look_around(int i, const std::vector<math::Point>& points, const math::PointIndex& index) {
    std::vector<int> near = index.nearest(points[static_cast<std::size_t>(i)], kNeighbours + 1);
    std::erase(near, i);
    for (std::size_t a = 0; a < near.size(); ++a)
      for (std::size_t b = a + 1; b < near.size(); ++b)
        for (std::size_t c = b + 1; c < near.size(); ++c) {
          std::array<std::uint32_t, 4> four{static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(near[a]),
                                            static_cast<std::uint32_t>(near[b]), static_cast<std::uint32_t>(near[c])};
          std::sort(four.begin(), four.end());
          if (!seen_.insert(four).second) continue;
          const auto coded =
              catalog::code_of({points[four[0]], points[four[1]], points[four[2]], points[four[3]]}, four);
          if (!coded || coded->longest < kShortest * field_.diagonal_px()) continue;
          for (const CodedFour& named : catalog::namings(*coded, code_tolerance(coded->longest)))
            for (const int parity : {1, -1})
              if (look_up(named, parity)) return;
        }
  }

  bool look_up(const CodedFour& four, int parity) {
    const catalog::StarCode code = parity > 0 ? four.code : catalog::mirrored(four.code);
    for (std::size_t s = 0; s < skies_.size(); ++s) {
      near_.clear();
      catalog::find_near(skies_[s]->patterns(), code, code_tolerance(four.longest), near_);
      for (const std::uint32_t n : near_)
        if (propose(four, parity, s, skies_[s]->patterns()[n])) return true;
    }
    return false;
  }

  bool propose(const CodedFour& four, int parity, std::size_t s, const catalog::Pattern& pattern) {
    const catalog::SkyFile& sky = *skies_[s];
    const auto place = [&](std::size_t k) {
      const SeenStar& star = field_.stars[four.star[k]];
      return math::Point{star.x, star.y};
    };
    const catalog::SkyStar a = sky.star(pattern.star[0], year_), b = sky.star(pattern.star[1], year_);
    const double scale = math::separation(a.direction, b.direction) / four.longest;
    if (scale < 0.95 * limits_.low_scale_rad || scale > 1.05 * limits_.high_scale_rad) return false;
    auto tracker = PoseTracker::from_pair(field_.middle(), parity, place(0), a.direction, place(1), b.direction,
                                          kPatternSigmaPx + 0.003 * four.longest);
    if (!tracker) return false;
    for (std::size_t k = 2; k < 4; ++k) {
      const auto predicted = tracker->predict(sky.star(pattern.star[k], year_).direction);
      if (!predicted) return false;
      const double noise = std::pow(kPatternSigmaPx + 0.003 * four.longest, 2);
      const math::Point seen = place(k);
      const double off2 = std::pow(seen.x - predicted->at.x, 2) + std::pow(seen.y - predicted->at.y, 2);
      if (off2 > 16 * (predicted->covariance.trace() + 2 * noise)) return false;
      tracker->learn(*predicted, seen, noise);
    }
    const Pose& pose = tracker->pose();
    if (pose.scale_rad < limits_.low_scale_rad || pose.scale_rad > limits_.high_scale_rad) return false;
    if (limits_.radius_rad < kPi && math::separation(pose.axes[2], limits_.centre) > limits_.radius_rad) return false;

    ++outcome_.proposals;
    math::Point middle{};
    std::array<int, 4> used{};
    for (std::size_t k = 0; k < 4; ++k) {
      middle = {middle.x + place(k).x / 4, middle.y + place(k).y / 4};
      used[k] = static_cast<int>(four.star[k]);
    }
    // The n-th proposal may pass with a chance of 1 / (4 n (1 + ln n)^2) of the whole alarm in each of two rounds of
    // stars: summed over all n that makes 1 at most.
    const auto n = static_cast<double>(outcome_.proposals);
    const double log_proposals = std::log(4 * n * std::pow(1 + std::log(n), 2));
    const Verdict verdict = test_.weigh(sky, year_, *tracker, middle, pattern.star, used, log_proposals + log_alarm_);
    outcome_.best_margin = std::max(outcome_.best_margin, verdict.log_odds - log_proposals);
    if (verdict.log_odds < log_proposals + log_alarm_) return false;
    outcome_.found = Found{s, verdict.pose, verdict.log_odds, log_proposals, verdict.matched};
    return true;
  }

  static constexpr double kPatternSigmaPx = 0.5;

  const Field& field_;
  std::span<const catalog::SkyFile* const> skies_;
  double year_;
  SearchLimits limits_;
  double log_alarm_;
  OddsTest test_;
  SearchOutcome outcome_;
  std::set<std::array<std::uint32_t, 4>> seen_;
  std::vector<std::uint32_t> near_;
};

}  // namespace

Result<SearchOutcome> search_blind(const Field& field, std::span<const catalog::SkyFile* const> skies, double year,
                                   const SearchLimits& limits, double false_alarm, const OddsOptions& options,
                                   const Context& ctx) {
  return Search(field, skies, year, limits, false_alarm, options).run(ctx);
}

}  // namespace ng::astrometry
