#include "reduce/stack/register.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "math/robust.h"
#include "math/star_match.h"
#include "reduce/stack/map_fit.h"

namespace ng::reduce {
namespace {

using math::Affine;
using math::PlaneMap;
using math::Point;

constexpr int kFewestBelieved = 8;  // stars that carry a map without a pattern of its own, or along a strip

std::vector<const Star*> usable(const StarList& list) {
  std::vector<const Star*> stars;
  for (const Star& s : list.stars)
    if (!s.has(kStarSaturated) && !s.has(kStarEdge) && !s.has(kStarPoorFit)) stars.push_back(&s);
  if (stars.size() >= 8) return stars;
  stars.clear();  // so few: take all but the cut ones
  for (const Star& s : list.stars)
    if (!s.has(kStarEdge)) stars.push_back(&s);
  return stars;
}

std::vector<Point> points_of(const std::vector<const Star*>& stars) {
  std::vector<Point> points;
  for (const Star* s : stars) points.push_back({s->x, s->y});
  return points;
}

// The brightest of both first; deeper where the pictures overlap little or many stars are faint; and more of the one
// than of the other where a camera sees less of the sky, whose faint stars are then the other's middling ones.
Result<math::StarMatch> find_pattern(const std::vector<Point>& from, const std::vector<Point>& to) {
  constexpr std::pair<int, int> kDepths[] = {{80, 80}, {250, 250}, {60, 250}, {250, 60}, {28, 250}, {250, 28}};
  std::optional<Error> first;
  for (const auto& [n, m] : kDepths) {
    math::StarMatchOptions options;
    options.brightest_from = n;
    options.brightest_to = m;
    Result<math::StarMatch> match = math::match_stars(from, to, options);
    if (match.ok() || match.error().code() != Code::kNoMatch) return match;
    if (!first) first = std::move(match).error();
  }
  return *std::move(first);
}

// Points of the third of a picture along one of its sides.
std::vector<Point> along_side(const std::vector<Point>& points, int side, int width, int height) {
  std::vector<Point> along;
  for (const Point& p : points) {
    const double depth[] = {p.x / width, p.y / height, 1 - p.x / width, 1 - p.y / height};
    if (depth[side] < 1.0 / 3) along.push_back(p);
  }
  return along;
}

// From the first guess to all pairs and the exact map.
Result<Registration> refine(const std::vector<const Star*>& from, const std::vector<const Star*>& to,
                            const PlaneMap& guess, bool mirrored, MapModel most) {
  const auto from_points = points_of(from);
  const auto to_points = points_of(to);
  PlaneMap map = guess;
  std::vector<MapPair> pairs;
  double tolerance = 4;
  for (int round = 0; round < 4; ++round) {
    pairs.clear();
    for (const auto& [i, j] : math::pair_stars(from_points, to_points, map, tolerance)) {
      const Star& a = *from[static_cast<std::size_t>(i)];
      const Star& b = *to[static_cast<std::size_t>(j)];
      // 0.01 px: what undersampling and the model of the profile leave even for bright stars.
      const double sigma = std::sqrt(
          (a.x_error * a.x_error + a.y_error * a.y_error + b.x_error * b.x_error + b.y_error * b.y_error) / 2 + 1e-4);
      pairs.push_back({{a.x, a.y}, {b.x, b.y}, sigma, 1 / (sigma * sigma)});
    }
    if (pairs.size() < 4) return Error(Code::kNoMatch, "fewer than 4 stars coincide with the reference frame");
    for (int step = 0; step < 4; ++step) {
      reweight(pairs, map);
      const MapModel model = round < 2 || pairs.size() < 10
                                 ? (pairs.size() < 10 ? MapModel::kSimilarity : MapModel::kAffine)
                                 : choose_model(pairs, mirrored, most);
      const auto fitted = fit_map(pairs, model, mirrored);
      if (!fitted) return Error(Code::kNoMatch, "its stars lie on a line: no map can be fitted");
      map = *fitted;
    }
    std::vector<double> distances;
    for (const MapPair& p : pairs) distances.push_back(distance(p, map));
    tolerance = std::clamp(5 * math::median(std::span<double>(distances)), 0.7, tolerance);
  }

  Registration r;
  r.map = map;
  double residual = 0, expected = 0, weight = 0;
  for (const MapPair& p : pairs) {
    if (p.weight <= 0) continue;
    ++r.pairs;
    residual += p.weight * std::pow(distance(p, map), 2) / 2;
    expected += p.weight * p.sigma * p.sigma;
    weight += p.weight;
  }
  r.residual_px = std::sqrt(residual / weight);
  r.expected_px = std::sqrt(expected / weight);
  return r;
}

}  // namespace

Result<Registration> register_stars(const StarList& frame, const StarList& reference) {
  const auto from = usable(frame);
  const auto to = usable(reference);
  NG_TRY(const math::StarMatch match, find_pattern(points_of(from), points_of(to)));
  return refine(from, to, match.map, match.map.determinant() < 0, MapModel::kBent);
}

Result<Registration> register_near(const StarList& frame, const StarList& reference, const PlaneMap& guess) {
  const bool mirrored = guess.linear_at({frame.width / 2.0, frame.height / 2.0}).determinant() < 0;
  NG_TRY(const Registration r, refine(usable(frame), usable(reference), guess, mirrored, MapModel::kHomography));
  if (r.pairs < kFewestBelieved) return Error(Code::kNoMatch, "fewer than 8 stars coincide with the reference frame");
  return r;
}

Result<Registration> register_neighbours(const StarList& frame, const StarList& reference) {
  const auto from = usable(frame);
  const auto to = usable(reference);
  const auto from_points = points_of(from);
  const auto to_points = points_of(to);
  std::optional<Registration> best;
  for (int i = 0; i < 4; ++i) {
    const auto near = along_side(from_points, i, frame.width, frame.height);
    for (int j = 0; j < 4; ++j) {
      math::StarMatchOptions options;
      options.false_alarm /= 16;  // so many tries
      const auto match = math::match_stars(near, along_side(to_points, j, reference.width, reference.height), options);
      if (!match.ok()) continue;
      const auto found = refine(from, to, match->map, match->map.determinant() < 0, MapModel::kHomography);
      if (found.ok() && found->pairs >= kFewestBelieved && (!best || found->pairs > best->pairs)) best = *found;
    }
  }
  if (best) return *best;
  return Error(Code::kNoMatch, "no strip along its sides shows the stars of another panel");
}

}  // namespace ng::reduce
