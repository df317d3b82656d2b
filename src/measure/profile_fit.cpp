#include "measure/profile_fit.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <vector>

#include "measure/profile_model.h"

namespace ng::measure {
namespace {

using Matrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kProfileParameters, kProfileParameters>;
using Vector = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, kProfileParameters, 1>;

constexpr double kRounding = 1e-5;  // of sums of squares in single precision

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

// The pixels of a disc that are there, unblocked and below saturation.
FitPixels collect(View<const float> image, const PixelNoise& noise, const FitStart& start, int cx, int cy,
                  View<const std::uint8_t> blocked, ProfileFit& fit) {
  const int r = start.radius_px;
  const auto saturation = static_cast<float>(noise.saturation);
  FitPixels pixels((2 * r + 1) * (2 * r + 1));
  const std::vector<std::uint8_t> all_free(blocked.empty() ? 2 * static_cast<std::size_t>(r) + 1 : 0, 0);
  unsigned missing = 0, full = 0;
  for (int dy = -r; dy <= r; ++dy) {
    const int reach = static_cast<int>(std::sqrt((r + 0.5) * (r + 0.5) - dy * dy));
    const int first = std::max(-reach, -cx);
    const int last = std::min(reach, image.width - 1 - cx);
    const bool outside = cy + dy < 0 || cy + dy >= image.height;
    fit.cut = fit.cut || outside || first > -reach || last < reach;
    if (outside) continue;
    const float* row = image.row(cy + dy) + cx;
    const std::uint8_t* taken = (blocked.empty() ? all_free.data() : blocked.row(dy + r)) + r;
    pixels.add_row(static_cast<float>(dy), last - first + 1, [&](int i) {
      const int dx = first + i;
      const float value = row[dx];
      const auto free = static_cast<unsigned>(taken[dx] == 0);
      const auto known = static_cast<unsigned>(value == value);
      const auto below = static_cast<unsigned>(!(value >= saturation));
      missing |= free & ~known;
      full |= free & ~below;
      return FitPixels::Candidate{static_cast<float>(dx), value, (free & known & below) != 0};
    });
  }
  fit.bad_pixels = (missing & 1) != 0;
  fit.saturated = (full & 1) != 0;
  fit.pixels = pixels.count();
  return pixels;
}

// Where the last step went too far, the next one turns back: by a share of it that hardly changes from step to step, as
// the curvature that the normal equations leave out hardly does. Shortens a step that turns back to where the series of
// them would end (Aitken 1926, Proc. R. Soc. Edinburgh 46, 289, along the step).
void shorten_returning_step(ProfileVector& step, const ProfileVector& last, const ProfilePass& pass, int n) {
  double along = 0, square = 0;  // in the metric of the errors, its diagonal
  for (std::size_t k = 0; k < static_cast<std::size_t>(n); ++k) {
    along += step[k] * last[k] * pass.a[k][k];
    square += last[k] * last[k] * pass.a[k][k];
  }
  if (!(along < 0)) return;
  const double share = std::min(1.0, -along / square);
  for (double& s : step) s /= 1 + share;
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
  ProfileVector last_step{};
  ProfilePass current = pass_at(p);
  pixels.keep_weights();
  for (int iteration = 0; iteration < 30 && !fit.converged; ++iteration) {
    bool moved = false;
    while (!moved && damping < 1e8) {
      ProfileVector step = damped_step(current, n, damping);
      shorten_returning_step(step, last_step, current, n);
      ProfileVector next = p;
      for (std::size_t k = 0; k < next.size(); ++k) next[k] += step[k];
      if (plausible(next, start.radius_px)) {
        const ProfilePass trial = pass_at(next);
        if (trial.chi2_before <= current.chi2 * (1 + kRounding)) {
          // The next step would be far smaller.
          fit.converged = damping < 1e-2;
          for (std::size_t k = 0; k < static_cast<std::size_t>(n); ++k)
            fit.converged = fit.converged &&
                            std::fabs(step[k]) < std::max(1e-6 * std::fabs(next[k]), 0.03 / std::sqrt(current.a[k][k]));
          p = next;
          last_step = step;
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
