#include "measure/profile_fit.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "measure/profile_model.h"

namespace ng::measure {
namespace {

using Matrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kProfileParameters, kProfileParameters>;
using Vector = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, kProfileParameters, 1>;

int parameters_of(Shape shape) {
  return shape == Shape::kFixed ? 4 : shape == Shape::kFree ? 7 : 8;
}

Profile profile_of(const ProfileVector& p) {
  return {p[4], p[5], p[6], 1 / p[7]};
}

bool plausible(const ProfileVector& p, double radius) {
  return std::all_of(p.begin(), p.end(), [](double v) { return std::isfinite(v); }) && std::fabs(p[0]) < 0.5 * radius &&
         std::fabs(p[1]) < 0.5 * radius && p[4] > 0 && p[5] > 0 && p[4] * p[5] - p[6] * p[6] > 0 && p[7] > 1e-3 &&
         p[7] < 0.95;
}

Matrix matrix_of(const ProfilePass& pass, int n) {
  Matrix a(n, n);
  for (int i = 0; i < n; ++i)
    for (int j = 0; j <= i; ++j) a(i, j) = a(j, i) = pass.a[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)];
  return a;
}

ProfileVector damped_step(const ProfilePass& pass, int n, double damping) {
  Matrix a = matrix_of(pass, n);
  for (int i = 0; i < n; ++i) a(i, i) *= 1 + damping;
  const Vector solved = a.ldlt().solve(Vector(Eigen::Map<const Vector>(pass.b.data(), n)));
  ProfileVector step{};
  std::copy_n(solved.data(), n, step.begin());
  return step;
}

FitPixels collect(View<const float> image, const PixelNoise& noise, const FitStart& start, int cx, int cy,
                  View<const std::uint8_t> blocked, ProfileFit& fit) {
  const int r = start.radius_px;
  FitPixels pixels((2 * r + 1) * (2 * r + 1));
  for (int dy = -r; dy <= r; ++dy) {
    for (int dx = -r; dx <= r; ++dx) {
      const int x = cx + dx;
      const int y = cy + dy;
      if (x < 0 || y < 0 || x >= image.width || y >= image.height) {
        fit.cut = true;
        continue;
      }
      if (!blocked.empty() && blocked(dx + r, dy + r) != 0) continue;
      const double value = image(x, y);
      if (std::isnan(value)) {
        fit.bad_pixels = true;
      } else if (value >= noise.saturation) {
        fit.saturated = true;
      } else {
        pixels.add(dx, dy, value);
      }
    }
  }
  fit.pixels = pixels.count();
  return pixels;
}

// Relative standard error of the FWHM at fixed beta: FWHM ~ det^(-1/4).
double fwhm_error(const ProfileVector& p, const Matrix& covariance) {
  const double det = p[4] * p[5] - p[6] * p[6];
  Eigen::Vector3d g(p[5], p[4], -2 * p[6]);
  g *= -0.25 / det;
  const Eigen::Matrix3d block = covariance.block(4, 4, 3, 3);
  return profile_of(p).fwhm_px() * std::sqrt(std::max(0.0, g.dot(block * g)));
}

}  // namespace

ProfileFit fit_profile(View<const float> image, const PixelNoise& noise, const FitStart& start,
                       View<const std::uint8_t> blocked) {
  ProfileFit fit;
  const int n = parameters_of(start.shape);
  const int cx = static_cast<int>(std::lround(start.x));
  const int cy = static_cast<int>(std::lround(start.y));
  FitPixels pixels = collect(image, noise, start, cx, cy, blocked, fit);
  if (fit.pixels < n + 3) return fit;
  const double sky = noise.sky_sigma * noise.sky_sigma;
  const auto pass_at = [&](const ProfileVector& at) {
    return profile_pass(pixels, at, n, sky, noise.electrons_per_unit);
  };

  ProfileVector p{start.x - cx,      start.y - cy,      start.flux,        start.background,
                  start.profile.cxx, start.profile.cyy, start.profile.cxy, 1 / start.profile.beta};
  double damping = 1e-3;
  ProfilePass current = pass_at(p);
  pixels.keep_weights();
  for (int iteration = 0; iteration < 30 && !fit.converged; ++iteration) {
    bool moved = false;
    while (!moved && damping < 1e8) {
      const ProfileVector step = damped_step(current, n, damping);
      ProfileVector next = p;
      for (std::size_t k = 0; k < next.size(); ++k) next[k] += step[k];
      if (plausible(next, start.radius_px)) {
        const ProfilePass trial = pass_at(next);
        if (trial.chi2_before <= current.chi2 * (1 + 1e-9)) {
          // The next step would be smaller by orders: steps shrink with their square.
          fit.converged = damping < 1e-2;
          for (std::size_t k = 0; k < static_cast<std::size_t>(n); ++k)
            fit.converged = fit.converged &&
                            std::fabs(step[k]) < std::max(1e-6 * std::fabs(next[k]), 0.01 / std::sqrt(current.a[k][k]));
          p = next;
          current = trial;
          pixels.keep_weights();
          damping = std::max(1e-9, damping / 10);
          moved = true;
          continue;
        }
      }
      damping *= 10;
    }
    if (!moved) break;
  }
  if (!(p[2] > 0)) fit.converged = false;
  if (!fit.converged && damping >= 1e8 && plausible(p, start.radius_px) && p[2] > 0)
    fit.converged = true;  // at the floor

  const Matrix covariance = matrix_of(current, n).inverse();
  if (!covariance.allFinite()) fit.converged = false;
  if (!fit.converged) return fit;
  fit.x = cx + p[0];
  fit.y = cy + p[1];
  fit.flux = p[2];
  fit.background = p[3];
  fit.profile = profile_of(p);
  fit.x_error = std::sqrt(std::max(0.0, covariance(0, 0)));
  fit.y_error = std::sqrt(std::max(0.0, covariance(1, 1)));
  fit.flux_error = std::sqrt(std::max(0.0, covariance(2, 2)));
  if (n > 4) fit.fwhm_error_px = fwhm_error(p, covariance);
  fit.chi2_dof = current.chi2 / (fit.pixels - n);
  return fit;
}

}  // namespace ng::measure
