#include "reduce/stack/map_fit.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <memory>

#include "math/bend_fit.h"
#include "math/robust.h"

namespace ng::reduce {
namespace {

using math::Affine;
using math::Homography;
using math::PlaneMap;
using math::Point;

// Weighted linear least squares for the rows a . p = b.
template <int N>
std::optional<Eigen::Matrix<double, N, 1>> solve(std::span<const MapPair> pairs, int skip_fold, Point from0, Point to0,
                                                 double size, auto&& rows_of) {
  Eigen::Matrix<double, N, N> a = Eigen::Matrix<double, N, N>::Zero();
  Eigen::Matrix<double, N, 1> b = Eigen::Matrix<double, N, 1>::Zero();
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    if (skip_fold >= 0 && static_cast<int>(i % 5) == skip_fold) continue;
    const MapPair& p = pairs[i];
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

std::optional<Homography> fit_flat(std::span<const MapPair> pairs, MapModel model, bool mirrored, int skip_fold) {
  Point from0{}, to0{};
  for (const MapPair& p : pairs) {
    from0 = {from0.x + p.from.x / static_cast<double>(pairs.size()),
             from0.y + p.from.y / static_cast<double>(pairs.size())};
    to0 = {to0.x + p.to.x / static_cast<double>(pairs.size()), to0.y + p.to.y / static_cast<double>(pairs.size())};
  }
  constexpr double kSize = 1000;  // pixels; brings the numbers near 1
  Homography centred;
  if (model == MapModel::kSimilarity) {
    // X = p x - q y + r, Y = q x + p y + s; mirrored: X = p x + q y + r, Y = q x - p y + s.
    const auto p = solve<4>(pairs, skip_fold, from0, to0, kSize, [mirrored](Point f, Point, auto& rows) {
      const double y = mirrored ? -f.y : f.y;
      rows << f.x, -y, 1, 0, y, f.x, 0, 1;
    });
    if (!p) return std::nullopt;
    const auto& q = *p;
    centred = mirrored ? Homography(Affine{q[0], q[1], q[2], q[1], -q[0], q[3]})
                       : Homography(Affine{q[0], -q[1], q[2], q[1], q[0], q[3]});
  } else if (model == MapModel::kAffine) {
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

}  // namespace

std::optional<PlaneMap> fit_map(std::span<const MapPair> pairs, MapModel model, bool mirrored, int skip_fold) {
  const auto flat = fit_flat(pairs, model, mirrored, skip_fold);
  if (!flat) return std::nullopt;
  if (model != MapModel::kBent) return PlaneMap(*flat);
  const Homography back = flat->inverse();
  std::vector<math::BentPlace> places;
  Point low = pairs[0].from, high = low;
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    const MapPair& p = pairs[i];
    low = {std::min(low.x, p.from.x), std::min(low.y, p.from.y)};
    high = {std::max(high.x, p.from.x), std::max(high.y, p.from.y)};
    if (skip_fold < 0 || static_cast<int>(i % 5) != skip_fold) places.push_back({back.apply(p.to), p.from, p.weight});
  }
  const auto bend =
      math::fit_bend(places, {(low.x + high.x) / 2, (low.y + high.y) / 2}, (high.x - low.x + high.y - low.y) / 4);
  if (!bend) return std::nullopt;
  return PlaneMap(std::make_shared<const math::Bend>(*bend), *flat, nullptr);
}

double distance(const MapPair& p, const PlaneMap& map) {
  const Point q = map.apply(p.from);
  return std::hypot(q.x - p.to.x, q.y - p.to.y);
}

void reweight(std::span<MapPair> pairs, const PlaneMap& map) {
  std::vector<double> relative;
  for (const MapPair& p : pairs) relative.push_back(distance(p, map) / p.sigma);
  std::vector<double> work = relative;
  const double scale = std::max(1.0, math::median(std::span<double>(work)) / 1.1774);  // median of a Rayleigh deviate
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    const double u = relative[i] / (6 * scale);
    pairs[i].weight = u < 1 ? (1 - u * u) * (1 - u * u) / (pairs[i].sigma * pairs[i].sigma) : 0;
  }
}

namespace {

double cross_validated(std::span<const MapPair> pairs, MapModel model, bool mirrored) {
  double sum = 0, weight = 0;
  for (int fold = 0; fold < 5; ++fold) {
    const auto map = fit_map(pairs, model, mirrored, fold);
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
double expected_distance(std::span<const MapPair> pairs) {
  double sum = 0, weight = 0;
  for (const MapPair& p : pairs) {
    sum += p.weight * 2 * p.sigma * p.sigma;
    weight += p.weight;
  }
  return weight > 0 ? std::sqrt(sum / weight) : 0;
}

}  // namespace

MapModel choose_model(std::span<const MapPair> pairs, bool mirrored, MapModel most) {
  MapModel best = MapModel::kSimilarity;
  double residual = cross_validated(pairs, best, mirrored);
  for (const auto& [model, needed] :
       {std::pair{MapModel::kAffine, 10}, std::pair{MapModel::kHomography, 24}, std::pair{MapModel::kBent, 60}}) {
    if (static_cast<int>(pairs.size()) < needed || model > most) break;
    if (model == MapModel::kBent && residual < 1.05 * expected_distance(pairs)) break;
    const double r = cross_validated(pairs, model, mirrored);
    if (r < 0.98 * residual) {
      best = model;
      residual = r;
    }
  }
  return best;
}

}  // namespace ng::reduce
