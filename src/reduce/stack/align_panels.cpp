#include "reduce/stack/align_panels.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>

#include "math/robust.h"
#include "math/star_match.h"

namespace ng::reduce {
namespace {

using math::Affine;
using math::Homography;
using math::PlaneMap;
using math::Point;

constexpr double kShear = 5e-4;
constexpr double kLens = 0.02;
constexpr double kLensGain = 0.98;  // of the residual without a lens, at most, to believe in one
constexpr double kFocalLengthShare = 0.03;
constexpr double kModelPx = 0.01;  // what undersampling and the model of the profile leave even for bright stars

// One panel's place: X, Y, M row by row.
using Pose = std::array<double, 6>;

Point middle_of(int width, int height) {
  return {(width - 1) / 2.0, (height - 1) / 2.0};
}

// From the plane tangent at (x, y) of the grid's plane to the grid's plane, both counted from their points of tangency.
Homography change_of_tangent(double x, double y, double q) {
  const double s = std::sqrt(std::max(1e-9, 1 + q * (x * x + y * y)));
  const double k = q / (s * s * (1 + 1 / s));
  // Rows of the 3 x 3 matrix times s, so that its last element is 1.
  return Homography({s * (1 - x * x * k), -s * x * y * k, x, -s * x * y * k, s * (1 - y * y * k), y, -x * q, -y * q});
}

class Fit {
 public:
  Fit(std::span<const Panel> panels, std::span<const PanelLink> links, std::optional<double> focal_length_px, bool lens)
      : panels_(panels), links_(links), lens_(lens), grid_middle_(middle_of(panels[0].width, panels[0].height)) {
    if (focal_length_px) {
      q_expected_ = 1 / (*focal_length_px * *focal_length_px);
      q_sigma_ = 2 * kFocalLengthShare * q_expected_;
    } else {
      // A picture is not wider than some 60 degrees.
      q_sigma_ = std::pow(std::max(panels[0].width, panels[0].height), -2.0);
    }
    q_ = q_expected_;
    for (const Panel& panel : panels) poses_.push_back(pose_of(panel));
  }

  Result<PanelFit> run() {
    std::vector<int> stars(panels_.size(), 0);
    for (const PanelLink& link : links_) {
      stars[static_cast<std::size_t>(link.from)] += static_cast<int>(link.stars.size());
      stars[static_cast<std::size_t>(link.to)] += static_cast<int>(link.stars.size());
      weights_.emplace_back(link.stars.size(), 1.0);
    }
    for (std::size_t i = 1; i < stars.size(); ++i)
      if (stars[i] < static_cast<int>(kFewestShared))
        return Error(Code::kNoMatch, "a panel has fewer than 4 stars in common with its neighbours");
    for (int round = 0; round < 12; ++round) {
      const double change = step();
      if (round >= 2 && change < 1e-5) break;
      reweight();
    }
    return result();
  }

 private:
  [[nodiscard]] Pose pose_of(const Panel& panel) const {
    const Point middle = middle_of(panel.width, panel.height);
    const Point at = panel.to_grid.apply(middle);
    const double x = at.x - grid_middle_.x, y = at.y - grid_middle_.y;
    const Homography from_grid =
        change_of_tangent(x, y, q_).inverse().after(Homography(Affine{1, 0, -grid_middle_.x, 0, 1, -grid_middle_.y}));
    const Affine m = PlaneMap(from_grid).after(panel.to_grid).linear_at(middle);
    return {x, y, m.a, m.b, m.d, m.e};
  }

  [[nodiscard]] PlaneMap map_of(std::size_t panel, const Pose& pose, double q, double k) const {
    const Point middle = middle_of(panels_[panel].width, panels_[panel].height);
    const auto& [x, y, a, b, d, e] = pose;
    const Affine local{a, b, -a * middle.x - b * middle.y, d, e, -d * middle.x - e * middle.y};
    const Homography flat = Homography(Affine{1, 0, grid_middle_.x, 0, 1, grid_middle_.y})
                                .after(change_of_tangent(x, y, q).after(Homography(local)));
    if (!lens_) return flat;
    return {std::make_shared<const math::Bend>(math::Bend::radial(middle, std::hypot(middle.x, middle.y), k)), flat,
            nullptr};
  }

  // Unknowns of panel i stand at 6 (i - 1) ...; then q and k, in units of their sigmas. Panel 0 stays, but for the
  // lens.
  [[nodiscard]] int unknowns() const { return unknown_q() + (lens_ ? 2 : 1); }
  [[nodiscard]] int unknown_q() const { return 6 * (static_cast<int>(panels_.size()) - 1); }

  // What a small change of each unknown of a panel moves: positions of the order of a pixel at its rim.
  [[nodiscard]] double nudge(std::size_t panel, int k) const {
    return k < 2 ? 1e-2 : 1e-2 / std::max(panels_[panel].width, panels_[panel].height);
  }

  // Maps of all panels, and how they change with their own unknowns, with q and with k.
  struct Maps {
    std::vector<PlaneMap> at;
    std::vector<std::array<PlaneMap, 6>> nudged;
    std::vector<PlaneMap> by_q, by_k;
  };
  [[nodiscard]] Maps maps(double q_nudge, double k_nudge) const {
    Maps m;
    for (std::size_t i = 0; i < panels_.size(); ++i) {
      m.at.push_back(map_of(i, poses_[i], q_, k_));
      m.by_q.push_back(map_of(i, poses_[i], q_ + q_nudge, k_));
      m.by_k.push_back(map_of(i, poses_[i], q_, k_ + k_nudge));
      m.nudged.emplace_back();
      for (int k = 0; k < 6; ++k) {
        Pose pose = poses_[i];
        pose[static_cast<std::size_t>(k)] += nudge(i, k);
        m.nudged.back()[static_cast<std::size_t>(k)] = map_of(i, pose, q_, k_);
      }
    }
    return m;
  }

  // One Gauss-Newton step; returns the largest move of a panel's middle, in pixels.
  double step() {
    const int n = unknowns();
    Eigen::MatrixXd a = Eigen::MatrixXd::Zero(n, n);
    Eigen::VectorXd b = Eigen::VectorXd::Zero(n);
    const double q_nudge = 1e-3 * q_sigma_, k_nudge = 1e-3 * kLens;
    const Maps m = maps(q_nudge, k_nudge);
    Eigen::VectorXd jx(n), jy(n);
    for (std::size_t l = 0; l < links_.size(); ++l) {
      const auto i = static_cast<std::size_t>(links_[l].from), j = static_cast<std::size_t>(links_[l].to);
      for (std::size_t s = 0; s < links_[l].stars.size(); ++s) {
        const StarPlaces& star = links_[l].stars[s];
        const double weight = weights_[l][s] / (star.sigma_px * star.sigma_px);
        if (weight == 0) continue;
        const Point p = m.at[i].apply(star.from), q = m.at[j].apply(star.to);
        jx.setZero();
        jy.setZero();
        derivatives(m, i, star.from, p, 1, jx, jy);
        derivatives(m, j, star.to, q, -1, jx, jy);
        const auto common = [&](int at, const std::vector<PlaneMap>& moved, double per_sigma) {
          const Point mp = moved[i].apply(star.from), mq = moved[j].apply(star.to);
          jx[at] = ((mp.x - p.x) - (mq.x - q.x)) * per_sigma;
          jy[at] = ((mp.y - p.y) - (mq.y - q.y)) * per_sigma;
        };
        common(unknown_q(), m.by_q, q_sigma_ / q_nudge);
        if (lens_) common(unknown_q() + 1, m.by_k, kLens / k_nudge);
        a.noalias() += weight * (jx * jx.transpose() + jy * jy.transpose());
        b.noalias() -= weight * ((p.x - q.x) * jx + (p.y - q.y) * jy);
      }
    }
    add_priors(a, b);
    const Eigen::VectorXd change = a.ldlt().solve(b);
    double most = 0;
    for (std::size_t i = 1; i < panels_.size(); ++i) {
      for (int k = 0; k < 6; ++k) poses_[i][static_cast<std::size_t>(k)] += change[unknown(i, k)];
      most = std::max({most, std::fabs(change[unknown(i, 0)]), std::fabs(change[unknown(i, 1)])});
    }
    q_ += change[unknown_q()] * q_sigma_;
    if (lens_) k_ += change[unknown_q() + 1] * kLens;
    return most;
  }

  [[nodiscard]] static int unknown(std::size_t panel, int k) { return 6 * (static_cast<int>(panel) - 1) + k; }

  void derivatives(const Maps& m, std::size_t panel, Point frame, Point at, double sign, Eigen::VectorXd& jx,
                   Eigen::VectorXd& jy) const {
    if (panel == 0) return;
    for (int k = 0; k < 6; ++k) {
      const Point moved = m.nudged[panel][static_cast<std::size_t>(k)].apply(frame);
      jx[unknown(panel, k)] += sign * (moved.x - at.x) / nudge(panel, k);
      jy[unknown(panel, k)] += sign * (moved.y - at.y) / nudge(panel, k);
    }
  }

  void add_priors(Eigen::MatrixXd& a, Eigen::VectorXd& b) const {
    const auto prior = [&](int i, int j, double sign, double residual, double sigma) {
      const double w = 1 / (sigma * sigma);
      a(i, i) += w;
      b[i] -= w * residual;
      if (j < 0) return;
      a(j, j) += w;
      a(i, j) += sign * w;
      a(j, i) += sign * w;
      b[j] -= sign * w * residual;
    };
    for (std::size_t i = 1; i < panels_.size(); ++i) {
      const auto& [x, y, ma, mb, md, me] = poses_[i];
      const double mirror = ma * me - mb * md < 0 ? -1 : 1;
      const double sigma = kShear * std::sqrt(std::fabs(ma * me - mb * md));
      prior(unknown(i, 2), unknown(i, 5), -mirror, ma - mirror * me, sigma);
      prior(unknown(i, 3), unknown(i, 4), mirror, mb + mirror * md, sigma);
    }
    prior(unknown_q(), -1, 0, (q_ - q_expected_) / q_sigma_, 1);
    if (lens_) prior(unknown_q() + 1, -1, 0, k_ / kLens, 1);
  }

  // Distances of the stars of a link, in expected standard deviations.
  [[nodiscard]] std::vector<double> distances(const std::vector<PlaneMap>& at, const PanelLink& link) const {
    std::vector<double> d;
    for (const StarPlaces& star : link.stars) {
      const Point p = at[static_cast<std::size_t>(link.from)].apply(star.from);
      const Point q = at[static_cast<std::size_t>(link.to)].apply(star.to);
      d.push_back(std::hypot(p.x - q.x, p.y - q.y) / star.sigma_px);
    }
    return d;
  }

  [[nodiscard]] std::vector<PlaneMap> current() const {
    std::vector<PlaneMap> at;
    for (std::size_t i = 0; i < panels_.size(); ++i) at.push_back(map_of(i, poses_[i], q_, k_));
    return at;
  }

  // Tukey weights, their scale from the residuals of all links but not below the centroids' errors.
  void reweight() {
    const std::vector<PlaneMap> at = current();
    std::vector<std::vector<double>> of_link;
    std::vector<double> all;
    for (const PanelLink& link : links_) {
      of_link.push_back(distances(at, link));
      all.insert(all.end(), of_link.back().begin(), of_link.back().end());
    }
    const double scale = std::max(1.0, math::median(std::span<double>(all)) / 1.1774);  // median of a Rayleigh deviate
    for (std::size_t l = 0; l < links_.size(); ++l)
      for (std::size_t s = 0; s < of_link[l].size(); ++s) {
        const double u = of_link[l][s] / (6 * scale);
        weights_[l][s] = u < 1 ? (1 - u * u) * (1 - u * u) : 0;
      }
  }

  [[nodiscard]] PanelFit result() const {
    PanelFit fit;
    fit.to_grid = current();
    if (!lens_) fit.to_grid[0] = Homography();
    fit.distortion = k_;
    if (q_ > 0) fit.focal_length_px = 1 / std::sqrt(q_);
    double residual = 0, expected = 0, sum = 0;
    for (std::size_t l = 0; l < links_.size(); ++l) {
      const std::vector<double> d = distances(fit.to_grid, links_[l]);
      for (std::size_t s = 0; s < d.size(); ++s) {
        const double sigma = links_[l].stars[s].sigma_px;
        const double w = weights_[l][s] / (sigma * sigma);
        residual += w * d[s] * d[s] * sigma * sigma / 2;
        expected += w * sigma * sigma;
        sum += w;
      }
    }
    fit.residual_px = std::sqrt(residual / sum);
    fit.expected_px = std::sqrt(expected / sum);
    return fit;
  }

  std::span<const Panel> panels_;
  std::span<const PanelLink> links_;
  bool lens_;
  Point grid_middle_;
  double q_expected_ = 0, q_sigma_ = 0, q_ = 0;
  double k_ = 0;
  std::vector<Pose> poses_;
  std::vector<std::vector<double>> weights_;
};

}  // namespace

std::vector<StarPlaces> common_stars(const StarList& from, const StarList& to, const math::PlaneMap& map,
                                     double tolerance_px) {
  const auto good = [](const StarList& list, std::vector<const Star*>& stars, std::vector<Point>& points) {
    for (const Star& s : list.stars) {
      if (s.has(kStarSaturated) || s.has(kStarEdge) || s.has(kStarPoorFit)) continue;
      stars.push_back(&s);
      points.push_back({s.x, s.y});
    }
  };
  std::vector<const Star*> a, b;
  std::vector<Point> a_points, b_points;
  good(from, a, a_points);
  good(to, b, b_points);
  std::vector<StarPlaces> places;
  for (const auto& [i, j] : math::pair_stars(a_points, b_points, map, tolerance_px)) {
    const Star& p = *a[static_cast<std::size_t>(i)];
    const Star& q = *b[static_cast<std::size_t>(j)];
    const double variance =
        (p.x_error * p.x_error + p.y_error * p.y_error + q.x_error * q.x_error + q.y_error * q.y_error) / 2;
    places.push_back({{p.x, p.y}, {q.x, q.y}, std::sqrt(variance + kModelPx * kModelPx)});
  }
  return places;
}

Result<PanelFit> align_panels(std::span<const Panel> panels, std::span<const PanelLink> links,
                              std::optional<double> focal_length_px) {
  if (panels.size() == 1) return PanelFit{{math::PlaneMap()}};
  NG_TRY(PanelFit flat, Fit(panels, links, focal_length_px, false).run());
  const bool one_camera = std::all_of(panels.begin(), panels.end(), [&](const Panel& p) {
    return p.width == panels[0].width && p.height == panels[0].height;
  });
  if (!one_camera) return flat;
  NG_TRY(PanelFit bent, Fit(panels, links, focal_length_px, true).run());
  return bent.residual_px < kLensGain * flat.residual_px ? bent : flat;
}

}  // namespace ng::reduce
