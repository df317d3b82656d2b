#include "math/star_match.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "math/near_points.h"
#include "math/point_index.h"

namespace ng::math {
namespace {

// Corners in order of the opposite side's length: 0 faces the shortest side. `code` is (shortest, middle) / longest.
struct Triangle {
  std::array<int, 3> corner;
  Point code;
};

std::vector<Triangle> make_triangles(std::span<const Point> points, int neighbours) {
  const PointIndex index(points);
  std::set<std::array<int, 3>> seen;
  std::vector<Triangle> triangles;
  for (int i = 0; i < static_cast<int>(points.size()); ++i) {
    const auto near =
        index.nearest(points[static_cast<std::size_t>(i)], neighbours + 1);  // the point itself among them
    for (std::size_t a = 0; a < near.size(); ++a) {
      for (std::size_t b = a + 1; b < near.size(); ++b) {
        if (near[a] == i || near[b] == i) continue;
        std::array<int, 3> key = {i, near[a], near[b]};
        std::sort(key.begin(), key.end());
        if (!seen.insert(key).second) continue;
        std::array<std::pair<double, int>, 3> side;  // squared length of the side that faces corner k
        for (std::size_t k = 0; k < 3; ++k) {
          const Point p = points[static_cast<std::size_t>(key[(k + 1) % 3])];
          const Point q = points[static_cast<std::size_t>(key[(k + 2) % 3])];
          side[k] = {(p.x - q.x) * (p.x - q.x) + (p.y - q.y) * (p.y - q.y), key[k]};
        }
        std::sort(side.begin(), side.end());
        if (side[0].first < 9) continue;  // shorter than 3 px: centroid errors spoil the ratios
        Triangle t{{side[0].second, side[1].second, side[2].second},
                   {std::sqrt(side[0].first / side[2].first), std::sqrt(side[1].first / side[2].first)}};
        // Nearly equal sides cannot be told apart, nearly flat triangles have no shape.
        if (t.code.y > 0.985 || t.code.x > 0.985 * t.code.y || t.code.x + t.code.y < 1.01) continue;
        triangles.push_back(t);
      }
    }
  }
  return triangles;
}

// Best similarity (least squares, with or without mirroring) that brings three points onto three others.
Affine similarity_of(const std::array<Point, 3>& p, const std::array<Point, 3>& q, bool mirrored) {
  Point pm{}, qm{};
  for (std::size_t k = 0; k < 3; ++k) {
    pm = {pm.x + p[k].x / 3, pm.y + p[k].y / 3};
    qm = {qm.x + q[k].x / 3, qm.y + q[k].y / 3};
  }
  const double flip = mirrored ? -1 : 1;
  double re = 0, im = 0, norm = 0;
  for (std::size_t k = 0; k < 3; ++k) {
    const double px = p[k].x - pm.x;
    const double py = flip * (p[k].y - pm.y);
    const double qx = q[k].x - qm.x;
    const double qy = q[k].y - qm.y;
    re += px * qx + py * qy;
    im += px * qy - py * qx;
    norm += px * px + py * py;
  }
  re /= norm;
  im /= norm;
  Affine t{re, -im * flip, 0, im, re * flip, 0};
  t.c = qm.x - t.a * pm.x - t.b * pm.y;
  t.f = qm.y - t.d * pm.x - t.e * pm.y;
  return t;
}

bool is_mirrored(const std::array<Point, 3>& p, const std::array<Point, 3>& q) {
  const auto area = [](const std::array<Point, 3>& t) {
    return (t[1].x - t[0].x) * (t[2].y - t[0].y) - (t[1].y - t[0].y) * (t[2].x - t[0].x);
  };
  return area(p) * area(q) < 0;
}

// Points of one list that a map brings onto points of the other.
class Coincidences {
 public:
  Coincidences(std::span<const Point> from, std::span<const Point> to, double tolerance_px)
      : from_(from), to_(to, tolerance_px) {
    const PointIndex index(from);
    for (const Point p : from) around_.push_back(index.nearest(p, kAround));
  }

  // 0 where the neighbourhood of a corner says no: a right map shows around the triangle first, wherever the two
  // pictures overlap. Gives up where `to_beat` is out of reach.
  [[nodiscard]] int count(const Affine& map, int corner, int to_beat) const {
    const auto coincides = [&](int i) { return to_.any_near(map.apply(from_[static_cast<std::size_t>(i)])); };
    const auto& around = around_[static_cast<std::size_t>(corner)];
    int left = std::min<int>(4, static_cast<int>(around.size()));  // still to be found
    for (std::size_t k = 0; k < around.size() && left > 0; ++k) left -= coincides(around[k]) ? 1 : 0;
    if (left > 0) return 0;
    int hits = 0;
    for (std::size_t i = 0; i < from_.size(); ++i) {
      hits += coincides(static_cast<int>(i)) ? 1 : 0;
      if (hits + static_cast<int>(from_.size() - i - 1) <= to_beat) return hits;
    }
    return hits;
  }

 private:
  static constexpr int kAround = 13;  // the corner itself among them
  std::span<const Point> from_;
  NearPoints to_;
  std::vector<std::vector<int>> around_;
};

// Natural logarithm of the probability that a Poisson variable of mean `mean` reaches `count`; an upper bound
// (Chernoff).
double log_chance(int count, double mean) {
  if (count <= mean) return 0;
  return count - mean - count * std::log(count / mean);
}

double bounding_area(std::span<const Point> points) {
  Point low = points[0], high = points[0];
  for (const Point p : points) {
    low = {std::min(low.x, p.x), std::min(low.y, p.y)};
    high = {std::max(high.x, p.x), std::max(high.y, p.y)};
  }
  return std::max(1.0, (high.x - low.x) * (high.y - low.y));
}

}  // namespace

std::vector<StarPair> pair_stars(std::span<const Point> from, std::span<const Point> to, const PlaneMap& map,
                                 double tolerance_px) {
  std::vector<Point> mapped;
  mapped.reserve(from.size());
  for (const Point p : from) mapped.push_back(map.apply(p));
  const PointIndex to_index(to);
  const PointIndex from_index(mapped);
  std::vector<StarPair> pairs;
  for (std::size_t i = 0; i < mapped.size(); ++i) {
    const auto [j, squared] = to_index.nearest(mapped[i]);
    if (j < 0 || squared > tolerance_px * tolerance_px) continue;
    if (from_index.nearest(to[static_cast<std::size_t>(j)]).first != static_cast<int>(i)) continue;
    pairs.push_back({static_cast<int>(i), j});
  }
  return pairs;
}

Result<StarMatch> match_stars(std::span<const Point> from, std::span<const Point> to, const StarMatchOptions& options) {
  from = from.first(std::min(from.size(), static_cast<std::size_t>(options.brightest_from)));
  to = to.first(std::min(to.size(), static_cast<std::size_t>(options.brightest_to)));
  if (from.size() < 4 || to.size() < 4)
    return Error(Code::kTooFew, "only " + std::to_string(std::min(from.size(), to.size())) +
                                    " usable stars, and a star pattern needs at least 4");

  const auto from_triangles = make_triangles(from, options.neighbours);
  const auto to_triangles = make_triangles(to, options.neighbours);
  std::vector<Point> codes;
  codes.reserve(to_triangles.size());
  for (const auto& t : to_triangles) codes.push_back(t.code);
  const PointIndex code_index(codes);
  const Coincidences coincidences(from, to, options.tolerance_px);

  // The three corners always coincide; each further star does so by chance with the probability of the circles around
  // the stars of the other list, counted over all proposals made.
  const double chance = std::min(1.0, static_cast<double>(to.size()) * 3.14159265 * options.tolerance_px *
                                          options.tolerance_px / bounding_area(to));
  const double expected = chance * static_cast<double>(from.size());
  const auto log_false_alarm = [&](int hits, double proposals) {
    return log_chance(hits - 3, expected) + std::log(std::max(1.0, proposals));
  };

  Affine best;
  int best_hits = 0;
  double proposals = 0;
  const double all_proposals = static_cast<double>(from_triangles.size()) * static_cast<double>(to_triangles.size());
  // More than half of the stars, by no chance: no other map will do better.
  const auto certain = [&] {
    return 2 * best_hits > static_cast<int>(from.size()) &&
           log_false_alarm(best_hits, all_proposals) < std::log(options.false_alarm);
  };
  for (const auto& t : from_triangles) {
    if (certain()) break;
    for (const int candidate : code_index.within(t.code, options.code_tolerance)) {
      const Triangle& u = to_triangles[static_cast<std::size_t>(candidate)];
      std::array<Point, 3> p, q;
      for (std::size_t k = 0; k < 3; ++k) {
        p[k] = from[static_cast<std::size_t>(t.corner[k])];
        q[k] = to[static_cast<std::size_t>(u.corner[k])];
      }
      const bool mirrored = is_mirrored(p, q);
      if (mirrored && !options.allow_mirror) continue;
      const Affine map = similarity_of(p, q, mirrored);
      if (map.scale() < options.min_scale || map.scale() > options.max_scale) continue;
      ++proposals;
      const int hits = coincidences.count(map, t.corner[0], best_hits);
      if (hits > best_hits) {
        best_hits = hits;
        best = map;
      }
    }
  }

  if (best_hits < 4 || log_false_alarm(best_hits, proposals) > std::log(options.false_alarm))
    return Error(Code::kNoMatch,
                 "its stars form no pattern of the reference frame (best try: " + std::to_string(best_hits) + " of " +
                     std::to_string(from.size()) + " stars, no more than chance)");

  return StarMatch{best, pair_stars(from, to, Homography(best), options.tolerance_px)};
}

}  // namespace ng::math
