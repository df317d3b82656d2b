#include "reduce/stack/normalise.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <vector>

#include "math/robust.h"
#include "math/star_match.h"

namespace ng::reduce {
namespace {

struct Sample {
  double x, y, value, weight;
};

using Basis = Eigen::Matrix<double, 6, 1>;

Basis basis_at(const SkySurface& s, double x, double y) {
  const double u = (x - s.x0) / s.size;
  const double v = (y - s.y0) / s.size;
  Basis b;
  b << 1, u, v, u * u, u * v, v * v;
  return b;
}

bool inside(math::Point p, const BackgroundMap& map) {
  return p.x >= 0 && p.y >= 0 && p.x <= map.width - 1 && p.y <= map.height - 1;
}

}  // namespace

FluxScale flux_scale(const StarList& frame, const StarList& reference, const math::PlaneMap& map) {
  std::vector<const Star*> from, to;
  const auto pick = [](const StarList& list, std::vector<const Star*>& out) {
    for (const Star& s : list.stars)
      if (s.flags == 0 && s.snr() > 15) out.push_back(&s);
  };
  pick(frame, from);
  pick(reference, to);
  std::vector<math::Point> from_points, to_points;
  for (const Star* s : from) from_points.push_back({s->x, s->y});
  for (const Star* s : to) to_points.push_back({s->x, s->y});

  std::vector<double> ratios;
  for (const auto& [i, j] : math::pair_stars(from_points, to_points, map, 1.5))
    ratios.push_back(std::log(from[static_cast<std::size_t>(i)]->flux / to[static_cast<std::size_t>(j)]->flux));
  FluxScale scale;
  if (ratios.size() < 3) return scale;
  scale.stars = static_cast<int>(ratios.size());
  scale.value = std::exp(math::biweight_location(ratios));
  std::vector<double> work = ratios;
  const double centre = math::median(std::span<double>(work));
  scale.error =
      scale.value * math::mad_sigma(std::span<double>(work), centre) / std::sqrt(static_cast<double>(ratios.size()));
  return scale;
}

SkySurface sky_difference(const SkyOnMaster& frame, const SkyOnMaster& reference) {
  const int width = reference.map.width;
  const int height = reference.map.height;
  SkySurface surface;
  surface.size = std::max(width, height) / 2.0;
  const math::Point centre = reference.to_master.apply({width / 2.0, height / 2.0});
  surface.x0 = centre.x;
  surface.y0 = centre.y;
  const math::PlaneMap reference_to_frame = frame.to_master.inverse().after(reference.to_master);

  constexpr int kColumns = 28, kRows = 20;
  std::vector<Sample> samples;
  for (int j = 0; j < kRows; ++j) {
    for (int i = 0; i < kColumns; ++i) {
      const math::Point r{(i + 0.5) / kColumns * width, (j + 0.5) / kRows * height};
      const math::Point f = reference_to_frame.apply(r);
      if (!inside(f, frame.map)) continue;
      const math::Point m = reference.to_master.apply(r);
      samples.push_back(
          {m.x, m.y, frame.factor * frame.map.level_at(f.x, f.y) - reference.factor * reference.map.level_at(r.x, r.y),
           1});
    }
  }
  if (samples.empty()) {
    surface.c[0] = frame.factor * frame.map.median_level() - reference.factor * reference.map.median_level();
    return surface;
  }
  // Few samples cannot carry a curved surface: fewer terms then.
  const int terms = samples.size() >= 60 ? 6 : samples.size() >= 12 ? 3 : 1;
  for (int round = 0; round < 6; ++round) {
    Eigen::Matrix<double, 6, 6> a = Eigen::Matrix<double, 6, 6>::Identity() * 1e-9;
    Basis b = Basis::Zero();
    for (const Sample& s : samples) {
      Basis g = basis_at(surface, s.x, s.y);
      g.tail(6 - terms).setZero();
      a += s.weight * g * g.transpose();
      b += s.weight * s.value * g;
    }
    const Basis solved = a.ldlt().solve(b);
    for (std::size_t k = 0; k < 6; ++k) surface.c[k] = solved[static_cast<Eigen::Index>(k)];
    std::vector<double> residuals;
    for (const Sample& s : samples) residuals.push_back(std::fabs(s.value - surface.at(s.x, s.y)));
    std::vector<double> work = residuals;
    const double sigma = 1.4826 * math::median(std::span<double>(work)) + 1e-9;
    for (std::size_t k = 0; k < samples.size(); ++k) {
      const double u = residuals[k] / (4.7 * sigma);
      samples[k].weight = u < 1 ? (1 - u * u) * (1 - u * u) : 0;
    }
  }
  return surface;
}

}  // namespace ng::reduce
