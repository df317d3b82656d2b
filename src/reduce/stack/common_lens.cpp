#include "reduce/stack/common_lens.h"

#include <cmath>
#include <memory>

#include "reduce/stack/map_fit.h"

namespace ng::reduce {
namespace {

struct FlatFit {
  math::Homography map;
  double squares = 0;  // sum of weighed squares, in units of the expected errors
  double residual_px = 0;
};

std::optional<FlatFit> fit_through(std::span<const StarPlaces> stars, const math::Bend& lens) {
  std::vector<MapPair> pairs;
  for (const StarPlaces& s : stars)
    pairs.push_back({lens.unbend(s.from), lens.unbend(s.to), s.sigma_px, 1 / (s.sigma_px * s.sigma_px)});
  std::optional<math::PlaneMap> map;
  for (int round = 0; round < 3; ++round) {
    map = fit_map(pairs, MapModel::kHomography, false);
    if (!map) return std::nullopt;
    reweight(pairs, *map);
  }
  FlatFit fit{map->plane()};
  double weights = 0;
  for (const MapPair& p : pairs) {
    const double d = distance(p, *map);
    fit.squares += p.weight * d * d;
    weights += p.weight;
  }
  fit.residual_px = std::sqrt(fit.squares / (2 * weights));
  return fit;
}

// Mean square over the weights of all frames: robust weights that shrink must not look like a better fit.
std::optional<double> misfit(std::span<const std::vector<StarPlaces>> stars, const math::Bend& lens) {
  double sum = 0, count = 0;
  for (const auto& frame : stars) {
    const auto fit = fit_through(frame, lens);
    if (!fit) return std::nullopt;
    sum += static_cast<double>(frame.size()) * fit->residual_px * fit->residual_px;
    count += static_cast<double>(frame.size());
  }
  return sum / count;
}

}  // namespace

math::Bend lens_of(int width, int height, double distortion) {
  const math::Point middle{(width - 1) / 2.0, (height - 1) / 2.0};
  return math::Bend::radial(middle, std::hypot(middle.x, middle.y), distortion);
}

std::optional<LensMap> map_through(std::span<const StarPlaces> stars, const math::Bend& lens) {
  const auto fit = fit_through(stars, lens);
  if (!fit) return std::nullopt;
  const auto shared = std::make_shared<const math::Bend>(lens);
  return LensMap{math::PlaneMap(shared, fit->map, shared), fit->residual_px};
}

std::optional<CommonLens> common_lens(std::span<const std::vector<StarPlaces>> stars, int width, int height) {
  constexpr std::size_t kFewest = 24;
  constexpr int kRounds = 8;
  for (const auto& frame : stars)
    if (frame.size() < kFewest) return std::nullopt;
  const auto at = [&](double k) { return misfit(stars, lens_of(width, height, k)); };
  const auto without = at(0);
  if (stars.empty() || !without) return std::nullopt;
  // Parabolas of narrowing width: the sum is nearly quadratic in k.
  double k = 0, step = 2e-3;
  for (int round = 0; round < kRounds; ++round) {
    const auto low = at(k - step), here = at(k), high = at(k + step);
    if (!low || !here || !high) return std::nullopt;
    const double curvature = *low - 2 * *here + *high;
    if (!(curvature > 0)) return std::nullopt;
    const double move = step * (*low - *high) / (2 * curvature);
    k += std::fmin(std::fmax(move, -0.02), 0.02);
    if (std::fabs(move) < 1e-7) break;
    step = std::fmax(1e-5, step / 3);
  }
  const auto best = at(k);
  if (!best || !(*best < *without) || std::fabs(k) > 0.1) return std::nullopt;
  CommonLens result;
  result.distortion = k;
  const math::Bend lens = lens_of(width, height, k);
  for (const auto& frame : stars) {
    const auto through = map_through(frame, lens);
    if (!through) return std::nullopt;
    result.maps.push_back(through->map);
    result.residual_px.push_back(through->residual_px);
  }
  return result;
}

}  // namespace ng::reduce
