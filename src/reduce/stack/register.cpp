#include "reduce/stack/register.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "math/bend_fit.h"
#include "math/robust.h"
#include "math/star_match.h"

namespace ng::reduce {
namespace {

using math::Affine;
using math::Homography;
using math::PlaneMap;
using math::Point;

struct Pair {
  Point from, to;
  double sigma;  // expected distance per axis
  double weight;
};

enum class Model { kSimilarity, kAffine, kHomography, kBent };

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

// Weighted linear least squares for the rows a . p = b.
template <int N>
std::optional<Eigen::Matrix<double, N, 1>> solve(const std::vector<Pair>& pairs, int skip_fold, Point from0, Point to0,
                                                 double size, auto&& rows_of) {
  Eigen::Matrix<double, N, N> a = Eigen::Matrix<double, N, N>::Zero();
  Eigen::Matrix<double, N, 1> b = Eigen::Matrix<double, N, 1>::Zero();
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    if (skip_fold >= 0 && static_cast<int>(i % 5) == skip_fold) continue;
    const Pair& p = pairs[i];
    const Point f{(p.from.x - from0.x) / size, (p.from.y - from0.y) / size};
    const Point t{(p.to.x - to0.x) / size, (p.to.y - to0.y) / size};
    Eigen::Matrix<double, 2, N> rows;
    rows_of(f, t, rows);
    a += p.weight * rows.transpose() * rows;
    b += p.weight * rows.transpose() * Eigen::Vector2d(t.x, t.y);
  }
  const Eigen::LDLT<Eigen::Matrix<double, N, N>> ldlt(a);
  if (ldlt.info() != Eigen::Success ||
      !(ldlt.vectorD().array().abs().minCoeff() > 1e-12 * ldlt.vectorD().array().abs().maxCoeff()))
    return std::nullopt;
  return ldlt.solve(b);
}

std::optional<Homography> fit_flat(const std::vector<Pair>& pairs, Model model, bool mirrored, int skip_fold = -1) {
  Point from0{}, to0{};
  for (const Pair& p : pairs) {
    from0 = {from0.x + p.from.x / static_cast<double>(pairs.size()),
             from0.y + p.from.y / static_cast<double>(pairs.size())};
    to0 = {to0.x + p.to.x / static_cast<double>(pairs.size()), to0.y + p.to.y / static_cast<double>(pairs.size())};
  }
  constexpr double kSize = 1000;  // pixels; brings the numbers near 1
  Homography centred;
  if (model == Model::kSimilarity) {
    // X = p x - q y + r, Y = q x + p y + s; mirrored: X = p x + q y + r, Y = q x - p y + s.
    const auto p = solve<4>(pairs, skip_fold, from0, to0, kSize, [mirrored](Point f, Point, auto& rows) {
      const double y = mirrored ? -f.y : f.y;
      rows << f.x, -y, 1, 0, y, f.x, 0, 1;
    });
    if (!p) return std::nullopt;
    const auto& q = *p;
    centred = mirrored ? Homography(Affine{q[0], q[1], q[2], q[1], -q[0], q[3]})
                       : Homography(Affine{q[0], -q[1], q[2], q[1], q[0], q[3]});
  } else if (model == Model::kAffine) {
    const auto p = solve<6>(pairs, skip_fold, from0, to0, kSize,
                            [](Point f, Point, auto& rows) { rows << f.x, f.y, 1, 0, 0, 0, 0, 0, 0, f.x, f.y, 1; });
    if (!p) return std::nullopt;
    centred = Homography(Affine{(*p)[0], (*p)[1], (*p)[2], (*p)[3], (*p)[4], (*p)[5]});
  } else {
    const auto p = solve<8>(pairs, skip_fold, from0, to0, kSize, [](Point f, Point t, auto& rows) {
      rows << f.x, f.y, 1, 0, 0, 0, -f.x * t.x, -f.y * t.x, 0, 0, 0, f.x, f.y, 1, -f.x * t.y, -f.y * t.y;
    });
    if (!p) return std::nullopt;
    centred = Homography({(*p)[0], (*p)[1], (*p)[2], (*p)[3], (*p)[4], (*p)[5], (*p)[6], (*p)[7]});
  }
  const Homography before(Affine{1 / kSize, 0, -from0.x / kSize, 0, 1 / kSize, -from0.y / kSize});
  const Homography afterwards(Affine{kSize, 0, to0.x, 0, kSize, to0.y});
  return afterwards.after(centred.after(before));
}

// The flat map first, then what it leaves, as a bend of the frame.
std::optional<PlaneMap> fit(const std::vector<Pair>& pairs, Model model, bool mirrored, int skip_fold = -1) {
  const auto flat = fit_flat(pairs, model, mirrored, skip_fold);
  if (!flat) return std::nullopt;
  if (model != Model::kBent) return PlaneMap(*flat);
  const Homography back = flat->inverse();
  std::vector<math::BentPlace> places;
  Point low = pairs[0].from, high = low;
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    const Pair& p = pairs[i];
    low = {std::min(low.x, p.from.x), std::min(low.y, p.from.y)};
    high = {std::max(high.x, p.from.x), std::max(high.y, p.from.y)};
    if (skip_fold < 0 || static_cast<int>(i % 5) != skip_fold) places.push_back({back.apply(p.to), p.from, p.weight});
  }
  const auto bend =
      math::fit_bend(places, {(low.x + high.x) / 2, (low.y + high.y) / 2}, (high.x - low.x + high.y - low.y) / 4);
  if (!bend) return std::nullopt;
  return PlaneMap(std::make_shared<const math::Bend>(*bend), *flat, nullptr);
}

double distance(const Pair& p, const PlaneMap& map) {
  const Point q = map.apply(p.from);
  return std::hypot(q.x - p.to.x, q.y - p.to.y);
}

// Tukey weights around the map, the scale from the residuals themselves but not below the centroids' errors.
void reweight(std::vector<Pair>& pairs, const PlaneMap& map) {
  std::vector<double> relative;
  for (const Pair& p : pairs) relative.push_back(distance(p, map) / p.sigma);
  std::vector<double> work = relative;
  const double scale = std::max(1.0, math::median(std::span<double>(work)) / 1.1774);  // median of a Rayleigh deviate
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    const double u = relative[i] / (6 * scale);
    pairs[i].weight = u < 1 ? (1 - u * u) * (1 - u * u) / (pairs[i].sigma * pairs[i].sigma) : 0;
  }
}

double cross_validated(const std::vector<Pair>& pairs, Model model, bool mirrored) {
  double sum = 0, weight = 0;
  for (int fold = 0; fold < 5; ++fold) {
    const auto map = fit(pairs, model, mirrored, fold);
    if (!map) return 1e30;
    for (std::size_t i = static_cast<std::size_t>(fold); i < pairs.size(); i += 5) {
      const double d = distance(pairs[i], *map);
      sum += pairs[i].weight * d * d;
      weight += pairs[i].weight;
    }
  }
  return weight > 0 ? std::sqrt(sum / weight) : 1e30;
}

// What the centroids' errors alone would leave of the same sum.
double expected_distance(const std::vector<Pair>& pairs) {
  double sum = 0, weight = 0;
  for (const Pair& p : pairs) {
    sum += p.weight * 2 * p.sigma * p.sigma;
    weight += p.weight;
  }
  return weight > 0 ? std::sqrt(sum / weight) : 0;
}

Model choose_model(const std::vector<Pair>& pairs, bool mirrored, Model most) {
  Model best = Model::kSimilarity;
  double residual = cross_validated(pairs, best, mirrored);
  for (const auto& [model, needed] :
       {std::pair{Model::kAffine, 10}, std::pair{Model::kHomography, 24}, std::pair{Model::kBent, 60}}) {
    if (static_cast<int>(pairs.size()) < needed || model > most) break;
    if (model == Model::kBent && residual < 1.05 * expected_distance(pairs)) break;
    const double r = cross_validated(pairs, model, mirrored);
    if (r < 0.98 * residual) {
      best = model;
      residual = r;
    }
  }
  return best;
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
                            const PlaneMap& guess, bool mirrored, Model most) {
  const auto from_points = points_of(from);
  const auto to_points = points_of(to);
  PlaneMap map = guess;
  std::vector<Pair> pairs;
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
      const Model model = round < 2 || pairs.size() < 10 ? (pairs.size() < 10 ? Model::kSimilarity : Model::kAffine)
                                                         : choose_model(pairs, mirrored, most);
      const auto fitted = fit(pairs, model, mirrored);
      if (!fitted) return Error(Code::kNoMatch, "its stars lie on a line: no map can be fitted");
      map = *fitted;
    }
    std::vector<double> distances;
    for (const Pair& p : pairs) distances.push_back(distance(p, map));
    tolerance = std::clamp(5 * math::median(std::span<double>(distances)), 0.7, tolerance);
  }

  Registration r;
  r.map = map;
  double residual = 0, expected = 0, weight = 0;
  for (const Pair& p : pairs) {
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
  return refine(from, to, match.map, match.map.determinant() < 0, Model::kBent);
}

Result<Registration> register_neighbours(const StarList& frame, const StarList& reference) {
  constexpr int kFewest = 8;
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
      const auto found = refine(from, to, match->map, match->map.determinant() < 0, Model::kHomography);
      if (found.ok() && found->pairs >= kFewest && (!best || found->pairs > best->pairs)) best = *found;
    }
  }
  if (best) return *best;
  return Error(Code::kNoMatch, "no strip along its sides shows the stars of another panel");
}

}  // namespace ng::reduce
