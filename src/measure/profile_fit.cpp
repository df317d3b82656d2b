#include "measure/profile_fit.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace ng::measure {
namespace {

// Order of the parameters: x, y, flux, background, cxx, cyy, cxy, 1 / beta (0 is a Gaussian: no wall to run into).
constexpr int kMax = 8;
using Vector = Eigen::Matrix<double, kMax, 1>;
using Matrix = Eigen::Matrix<double, kMax, kMax>;

struct Sample {
  double dx, dy;  // from the centre of the box
  double value;
};

int parameters_of(Shape shape) {
  return shape == Shape::kFixed ? 4 : shape == Shape::kFree ? 7 : 8;
}

Profile profile_of(const Vector& p) {
  return {p[4], p[5], p[6], 1 / p[7]};
}

// Model value of a pixel and its derivatives by the first `n` parameters.
double model(const Vector& p, double dx, double dy, int n, Vector& gradient) {
  constexpr double h = 0.28867513459481287;
  const Profile profile = profile_of(p);
  const double det = profile.determinant();
  const double peak = profile.peak();
  const double beta = profile.beta;
  double value = 0;
  gradient.setZero();
  for (int k = 0; k < 4; ++k) {
    const double x = dx - p[0] + ((k & 1) != 0 ? h : -h);
    const double y = dy - p[1] + ((k & 2) != 0 ? h : -h);
    const double u = 1 + p[4] * x * x + 2 * p[6] * x * y + p[5] * y * y;
    const double log_u = std::log(u);
    const double shape = 0.25 * peak * std::exp(-beta * log_u);
    const double slope = p[2] * shape * beta / u;  // -dI/dq
    value += shape;
    gradient[0] += slope * 2 * (p[4] * x + p[6] * y);
    gradient[1] += slope * 2 * (p[5] * y + p[6] * x);
    if (n > 4) {
      gradient[4] -= slope * x * x;
      gradient[5] -= slope * y * y;
      gradient[6] -= slope * 2 * x * y;
    }
    if (n > 7) gradient[7] += p[2] * shape * log_u * beta * beta;
  }
  gradient[2] = value;
  gradient[3] = 1;
  if (n > 4) {  // the height of a normalised profile follows its width
    gradient[4] += p[2] * value * p[5] / (2 * det);
    gradient[5] += p[2] * value * p[4] / (2 * det);
    gradient[6] -= p[2] * value * p[6] / det;
  }
  if (n > 7) gradient[7] -= p[2] * value / (beta - 1) * beta * beta;
  return p[2] * value + p[3];
}

bool plausible(const Vector& p, double radius) {
  return p.allFinite() && std::fabs(p[0]) < 0.5 * radius && std::fabs(p[1]) < 0.5 * radius && p[4] > 0 && p[5] > 0 &&
         p[4] * p[5] - p[6] * p[6] > 0 && p[7] > 1e-3 && p[7] < 0.95;
}

struct Normal {
  Matrix a = Matrix::Zero();
  Vector b = Vector::Zero();
  double chi2 = 0;
};

// Normal equations at p; the weights come from the model at `weights_at`.
Normal normal_equations(const std::vector<Sample>& samples, const PixelNoise& noise, const Vector& p,
                        const Vector& weights_at, int n) {
  Normal normal;
  Vector gradient, unused;
  const double sky = noise.sky_sigma * noise.sky_sigma;
  const bool same = p == weights_at;
  for (const Sample& s : samples) {
    const double value = model(p, s.dx, s.dy, n, gradient);
    double variance = sky;
    if (noise.electrons_per_unit > 0) {
      const double base = same ? value : model(weights_at, s.dx, s.dy, 4, unused);
      variance += std::max(0.0, base - weights_at[3]) / noise.electrons_per_unit;
    }
    const double w = 1 / variance;
    const double residual = s.value - value;
    normal.chi2 += w * residual * residual;
    for (int i = 0; i < n; ++i) {
      const double wg = w * gradient[i];
      normal.b[i] += wg * residual;
      for (int j = 0; j <= i; ++j) normal.a(i, j) += wg * gradient[j];
    }
  }
  for (int i = 0; i < n; ++i)
    for (int j = 0; j < i; ++j) normal.a(j, i) = normal.a(i, j);
  return normal;
}

using SmallVector = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, kMax, 1>;
using SmallMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kMax, kMax>;

Vector damped_step(const Normal& normal, int n, double damping) {
  SmallMatrix a = normal.a.topLeftCorner(n, n);
  for (int i = 0; i < n; ++i) a(i, i) *= 1 + damping;
  const SmallVector solved = a.ldlt().solve(SmallVector(normal.b.head(n)));
  Vector step = Vector::Zero();
  step.head(n) = solved;
  return step;
}

std::vector<Sample> collect(View<const float> image, const PixelNoise& noise, const FitStart& start, int cx, int cy,
                            View<const std::uint8_t> blocked, ProfileFit& fit) {
  std::vector<Sample> samples;
  const int r = start.radius_px;
  samples.reserve(static_cast<std::size_t>((2 * r + 1) * (2 * r + 1)));
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
        samples.push_back({static_cast<double>(dx), static_cast<double>(dy), value});
      }
    }
  }
  fit.pixels = static_cast<int>(samples.size());
  return samples;
}

// Relative standard error of the FWHM at fixed beta: FWHM ~ det^(-1/4).
double fwhm_error(const Vector& p, const SmallMatrix& covariance) {
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
  const std::vector<Sample> samples = collect(image, noise, start, cx, cy, blocked, fit);
  if (fit.pixels < n + 3) return fit;

  Vector p;
  p << start.x - cx, start.y - cy, start.flux, start.background, start.profile.cxx, start.profile.cyy,
      start.profile.cxy, 1 / start.profile.beta;
  double damping = 1e-3;
  Normal current = normal_equations(samples, noise, p, p, n);
  for (int iteration = 0; iteration < 30 && !fit.converged; ++iteration) {
    bool moved = false;
    while (!moved && damping < 1e8) {
      const Vector step = damped_step(current, n, damping);
      const Vector next = p + step;
      if (plausible(next, start.radius_px)) {
        const Normal trial = normal_equations(samples, noise, next, p, n);
        if (trial.chi2 <= current.chi2 * (1 + 1e-9)) {
          // Position to a thousandth of its own uncertainty, or a millionth of a pixel.
          const double scale_x = std::max(1e-6, 1e-3 / std::sqrt(std::max(1e-12, current.a(0, 0))));
          fit.converged = damping < 1e-2 && std::fabs(step[0]) < scale_x && std::fabs(step[1]) < scale_x &&
                          std::fabs(step[2]) < 1e-5 * std::fabs(next[2]) + 1e-12;
          p = next;
          damping = std::max(1e-9, damping / 10);
          moved = true;
          continue;
        }
      }
      damping *= 10;
    }
    if (!moved) break;
    current = normal_equations(samples, noise, p, p, n);
  }
  if (!(p[2] > 0)) fit.converged = false;
  if (!fit.converged && damping >= 1e8 && plausible(p, start.radius_px) && p[2] > 0)
    fit.converged = true;  // at the floor

  const SmallMatrix covariance = SmallMatrix(current.a.topLeftCorner(n, n)).inverse();
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
