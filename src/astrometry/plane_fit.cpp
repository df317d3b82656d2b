#include "astrometry/plane_fit.h"

#include <Eigen/QR>
#include <cmath>

#include "math/robust.h"

namespace ng::astrometry {
namespace {

constexpr double kTukey = 4.685;  // 95 % efficient for normal errors (common practice)
constexpr int kRounds = 8;

Eigen::MatrixXd design(std::span<const PlanePair> pairs, int degree, double span) {
  Eigen::MatrixXd m(pairs.size(), PlanePolynomial::count(degree));
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    const double u = pairs[i].u / span, v = pairs[i].v / span;
    double up = 1;
    for (int p = 0; p <= degree; ++p, up *= u) {
      double vq = 1;
      for (int q = 0; p + q <= degree; ++q, vq *= v)
        m(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(PlanePolynomial::index(p, q))) = up * vq;
    }
  }
  return m;
}

}  // namespace

PlaneFit fit_plane(std::span<const PlanePair> pairs, int degree, double span) {
  const auto n = static_cast<Eigen::Index>(pairs.size());
  const Eigen::MatrixXd m = design(pairs, degree, span);
  Eigen::VectorXd x(n), y(n), root(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const PlanePair& p = pairs[static_cast<std::size_t>(i)];
    x[i] = p.x;
    y[i] = p.y;
    root[i] = std::sqrt(p.weight);
  }
  PlaneFit fit;
  fit.robust.assign(pairs.size(), 1);
  Eigen::VectorXd cx, cy;
  Eigen::MatrixXd weighted;
  for (int round = 0; round < kRounds; ++round) {
    Eigen::VectorXd w(n);
    for (Eigen::Index i = 0; i < n; ++i) w[i] = root[i] * std::sqrt(fit.robust[static_cast<std::size_t>(i)]);
    weighted = w.asDiagonal() * m;
    const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(weighted);
    cx = qr.solve(w.asDiagonal() * x);
    cy = qr.solve(w.asDiagonal() * y);
    if (round + 1 == kRounds) break;
    const Eigen::VectorXd rx = root.cwiseProduct(x - m * cx), ry = root.cwiseProduct(y - m * cy);
    std::vector<double> sizes;
    for (Eigen::Index i = 0; i < n; ++i) sizes.push_back(std::hypot(rx[i], ry[i]));
    std::vector<double> copy = sizes;
    // Median of a Rayleigh variable is 1.1774 sigma. Never below the stated errors: few stars fit each other by chance.
    const double sigma = std::max(1.0, math::median(copy) / 1.1774);
    for (std::size_t i = 0; i < sizes.size(); ++i) {
      const double t = sizes[i] / (kTukey * sigma * 1.1774);
      fit.robust[i] = t < 1 ? (1 - t * t) * (1 - t * t) : 0;
    }
  }
  fit.covariance = (weighted.transpose() * weighted).completeOrthogonalDecomposition().pseudoInverse();
  fit.x.order = fit.y.order = degree;
  fit.x.coefficients.assign(static_cast<std::size_t>(m.cols()), 0);
  fit.y.coefficients = fit.x.coefficients;
  for (int p = 0; p <= degree; ++p)
    for (int q = 0; p + q <= degree; ++q) {
      const auto k = static_cast<Eigen::Index>(PlanePolynomial::index(p, q));
      const double unit = std::pow(span, -(p + q));
      fit.x.coefficients[static_cast<std::size_t>(k)] = cx[k] * unit;
      fit.y.coefficients[static_cast<std::size_t>(k)] = cy[k] * unit;
      fit.covariance.row(k) *= unit;
      fit.covariance.col(k) *= unit;
    }
  return fit;
}

}  // namespace ng::astrometry
