#include "reduce/stack/level_panels.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>

#include "math/robust.h"

namespace ng::reduce {
namespace {

// At least half a box from the border: further out the map is carried on from its outermost boxes.
bool well_inside(math::Point p, const BackgroundMap& map) {
  const double margin = map.box_px / 2.0;
  return p.x >= margin && p.y >= margin && p.x <= map.width - 1 - margin && p.y <= map.height - 1 - margin;
}

}  // namespace

std::vector<double> panel_scales(int panels, std::span<const PanelRatio> ratios) {
  Eigen::MatrixXd a = Eigen::MatrixXd::Identity(panels, panels) * 1e-6;  // a panel without links keeps scale 1
  Eigen::VectorXd b = Eigen::VectorXd::Zero(panels);
  a(0, 0) = 1e12;
  for (const PanelRatio& r : ratios) {
    if (r.flux.stars == 0) continue;
    // A handful of stars may agree better by chance than their model allows.
    const double relative = std::max(r.flux.error / r.flux.value, 0.002);
    const double w = 1 / (relative * relative);
    const double value = std::log(r.flux.value);
    a(r.from, r.from) += w;
    a(r.to, r.to) += w;
    a(r.from, r.to) -= w;
    a(r.to, r.from) -= w;
    b[r.from] += w * value;
    b[r.to] -= w * value;
  }
  const Eigen::VectorXd logs = a.ldlt().solve(b);
  std::vector<double> scales;
  for (const double log : logs) scales.push_back(std::exp(log));
  return scales;
}

void sample_overlap(int from, const SkyOnMaster& a, int to, const SkyOnMaster& b, std::vector<PanelSample>& samples) {
  const math::PlaneMap a_to_b = b.to_master.inverse().after(a.to_master);
  constexpr int kColumns = 40, kRows = 30;
  for (int j = 0; j < kRows; ++j) {
    for (int i = 0; i < kColumns; ++i) {
      const math::Point p{(i + 0.5) / kColumns * a.map.width, (j + 0.5) / kRows * a.map.height};
      const math::Point q = a_to_b.apply(p);
      if (!well_inside(p, a.map) || !well_inside(q, b.map)) continue;
      const math::Point m = a.to_master.apply(p);
      samples.push_back({from, to, m.x, m.y, a.factor * a.map.level_at(p.x, p.y), b.factor * b.map.level_at(q.x, q.y)});
    }
  }
}

std::vector<SkySurface> panel_skies(int panels, std::span<const PanelSample> samples, double size) {
  // Unknowns of panel i: constant, slope in x, slope in y, at 3 (i - 1) ...
  const int n = 3 * (panels - 1);
  Eigen::VectorXd unknowns = Eigen::VectorXd::Zero(n);
  std::vector<double> weights(samples.size(), 1);
  const auto row_of = [&](const PanelSample& s) {
    Eigen::VectorXd row = Eigen::VectorXd::Zero(n);
    const Eigen::Vector3d basis(1, s.x / size, s.y / size);
    if (s.from > 0) row.segment<3>(3 * (s.from - 1)) += basis;
    if (s.to > 0) row.segment<3>(3 * (s.to - 1)) -= basis;
    return row;
  };
  for (int round = 0; round < 6 && n > 0 && !samples.empty(); ++round) {
    Eigen::MatrixXd a = Eigen::MatrixXd::Identity(n, n) * 1e-6;
    Eigen::VectorXd b = Eigen::VectorXd::Zero(n);
    for (std::size_t k = 0; k < samples.size(); ++k) {
      const Eigen::VectorXd row = row_of(samples[k]);
      a.noalias() += weights[k] * row * row.transpose();
      b.noalias() += weights[k] * (samples[k].level_from - samples[k].level_to) * row;
    }
    unknowns = a.ldlt().solve(b);
    std::vector<double> residuals;
    for (const PanelSample& s : samples)
      residuals.push_back(std::fabs(s.level_from - s.level_to - row_of(s).dot(unknowns)));
    std::vector<double> work = residuals;
    const double sigma = 1.4826 * math::median(std::span<double>(work)) + 1e-9;
    for (std::size_t k = 0; k < samples.size(); ++k) {
      const double u = residuals[k] / (4.7 * sigma);
      weights[k] = u < 1 ? (1 - u * u) * (1 - u * u) : 0;
    }
  }
  std::vector<SkySurface> skies(static_cast<std::size_t>(panels));
  for (int i = 1; i < panels; ++i) {
    SkySurface& sky = skies[static_cast<std::size_t>(i)];
    sky.size = size;
    for (int k = 0; k < 3; ++k) sky.c[static_cast<std::size_t>(k)] = unknowns[3 * (i - 1) + k];
  }
  return skies;
}

SkySurface sum(const SkySurface& a, const SkySurface& b) {
  // b in the coordinates of a: u_b = r u_a + s, v_b = r v_a + t.
  const double r = a.size / b.size, s = (a.x0 - b.x0) / b.size, t = (a.y0 - b.y0) / b.size;
  const auto& c = b.c;
  SkySurface total = a;
  total.c[0] += c[0] + c[1] * s + c[2] * t + c[3] * s * s + c[4] * s * t + c[5] * t * t;
  total.c[1] += r * (c[1] + 2 * c[3] * s + c[4] * t);
  total.c[2] += r * (c[2] + c[4] * s + 2 * c[5] * t);
  total.c[3] += r * r * c[3];
  total.c[4] += r * r * c[4];
  total.c[5] += r * r * c[5];
  return total;
}

SkySurface scaled(SkySurface surface, double factor) {
  for (double& c : surface.c) c *= factor;
  return surface;
}

}  // namespace ng::reduce
