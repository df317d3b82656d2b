#include "astrometry/odds.h"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <tuple>

namespace ng::astrometry {
namespace {

struct Expected {
  catalog::SkyStar star;
  std::size_t rank = 0;  // among the catalogue's stars on the frame
  double distance_px = 0;
};

// The brightest catalogue stars are weighed first, so many at a time: a frame that shows only a few of those that the
// catalogue has there shows the brightest.
constexpr std::size_t kBlock = 8;

// Stars of the frame that may be a catalogue star of this rank: catalogue and camera see different colours, and what
// the catalogue lacks the frame may show.
std::size_t ranks_allowed(std::size_t rank) {
  return 4 * (rank + 1) + 12;
}

}  // namespace

OddsTest::OddsTest(const Field& field, const OddsOptions& options)
    : field_(field), options_(options), index_(places(field.stars)) {}

Verdict OddsTest::weigh(const catalog::SkyFile& sky, double year, const PoseTracker& proposal, math::Point pattern_at,
                        std::span<const std::uint32_t> pattern, std::span<const int> used, double wanted) const {
  Verdict first =
      weigh_brightest(sky, year, proposal, pattern_at, pattern, used, static_cast<std::size_t>(options_.first_stars));
  if (first.log_odds >= wanted || first.log_odds < 3) return first;
  Verdict more =
      weigh_brightest(sky, year, proposal, pattern_at, pattern, used, static_cast<std::size_t>(options_.more_stars));
  return more.log_odds > first.log_odds ? more : first;
}

std::vector<catalog::SkyStar> OddsTest::brightest(const catalog::SkyFile& sky, double year, const math::Vec3& centre,
                                                  double radius_rad, std::size_t count) const {
  if (around_.empty()) return sky.brightest(centre, radius_rad, count, year);
  std::vector<catalog::SkyStar> stars;
  const double nearest = std::cos(radius_rad);
  for (const catalog::SkyStar& star : around_) {
    if (math::dot(star.direction, centre) < nearest) continue;
    stars.push_back(star);
    if (stars.size() == count) break;
  }
  return stars;
}

Verdict OddsTest::weigh_brightest(const catalog::SkyFile& sky, double year, PoseTracker pose, math::Point pattern_at,
                                  std::span<const std::uint32_t> pattern, std::span<const int> used,
                                  std::size_t count) const {
  const Pose& p = pose.pose();
  // The circle around the frame holds more sky than the frame: ask for more, and keep what falls inside.
  const double circle = kPi / 4 * field_.diagonal_px() * field_.diagonal_px();
  const double area = static_cast<double>(field_.width) * field_.height;
  const auto wanted = static_cast<std::size_t>(static_cast<double>(count) * circle / area * 1.2) + 6;
  const double radius = std::atan(0.5 * field_.diagonal_px() * p.scale_rad);
  std::vector<Expected> expected;
  for (const catalog::SkyStar& star : brightest(sky, year, p.axes[2], radius, wanted)) {
    const auto at = p.pixel(star.direction);
    if (!at || !field_.holds(*at)) continue;
    expected.push_back({star, expected.size(), std::hypot(at->x - pattern_at.x, at->y - pattern_at.y)});
    if (expected.size() == count) break;
  }
  std::sort(expected.begin(), expected.end(), [](const Expected& a, const Expected& b) {
    return std::tuple(a.rank / kBlock, a.distance_px, a.rank) < std::tuple(b.rank / kBlock, b.distance_px, b.rank);
  });

  Verdict verdict;
  verdict.matched = static_cast<int>(pattern.size());
  verdict.pose = p;
  std::vector<bool> taken(field_.stars.size(), false);
  for (const int i : used) taken[static_cast<std::size_t>(i)] = true;
  double log_odds = 0;
  for (const Expected& e : expected) {
    if (std::find(pattern.begin(), pattern.end(), e.star.index) != pattern.end()) continue;
    const auto predicted = pose.predict(e.star.direction);
    if (!predicted || !field_.holds(predicted->at)) continue;
    const double catalogue_px = e.star.error_rad / pose.pose().scale_rad;
    const double model_px = options_.model * e.distance_px;
    const double base = options_.centroid_px * options_.centroid_px + catalogue_px * catalogue_px + model_px * model_px;
    // Beyond five sigma of a badly measured star (0.5 px) nothing counts.
    const double reach = 5 * std::sqrt(predicted->covariance.trace() + 2 * (base + 0.25));
    const std::size_t allowed = std::min(ranks_allowed(e.rank), field_.stars.size());
    double density = 0, best = 0;
    int best_star = -1;
    for (const int i : index_.within(predicted->at, std::min(reach, 0.25 * field_.diagonal_px()))) {
      const auto k = static_cast<std::size_t>(i);
      if (k >= allowed || taken[k]) continue;
      const SeenStar& seen = field_.stars[k];
      const Eigen::Matrix2d covariance =
          predicted->covariance + (base + seen.error_px * seen.error_px) * Eigen::Matrix2d::Identity();
      const Eigen::Vector2d off(seen.x - predicted->at.x, seen.y - predicted->at.y);
      const double here =
          std::exp(-0.5 * off.dot(covariance.inverse() * off)) / (2 * kPi * std::sqrt(covariance.determinant()));
      density += here;
      if (here > best) {
        best = here;
        best_star = i;
      }
    }
    const double ratio =
        options_.distractor + (1 - options_.distractor) * density * area / static_cast<double>(allowed);
    log_odds += std::log(ratio);
    if (ratio > 3 && best > 0.7 * density) {
      const SeenStar& seen = field_.stars[static_cast<std::size_t>(best_star)];
      pose.learn(*predicted, {seen.x, seen.y}, base + seen.error_px * seen.error_px);
      taken[static_cast<std::size_t>(best_star)] = true;
      ++verdict.matched;
    }
    if (log_odds > verdict.log_odds) {
      verdict.log_odds = log_odds;
      verdict.pose = pose.pose();
    }
    if (log_odds < options_.give_up) break;
  }
  return verdict;
}

}  // namespace ng::astrometry
