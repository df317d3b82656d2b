#include "finish/sky_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "base/parallel.h"
#include "math/robust.h"

namespace ng::finish {
namespace {

constexpr double kAbove = 2.5;  // scatters that a sky box may lie above the surface
constexpr double kBelow = 5.0;  // and below it: nothing darkens the sky, but boxes scatter
constexpr double kQuantile = 0.1;

using Matrix = Eigen::MatrixXd;
using Vector = Eigen::VectorXd;

Matrix design(const SkyMesh& mesh, int degree) {
  const int columns = mesh.level.width();
  Matrix a(columns * mesh.level.height(), sky_terms(degree));
  for (int i = 0; i < a.rows(); ++i) {
    const auto terms =
        SkySurface::terms_at(mesh.centre_x(i % columns), mesh.centre_y(i / columns), mesh.width, mesh.height, degree);
    for (int k = 0; k < a.cols(); ++k) a(i, k) = terms[static_cast<std::size_t>(k)];
  }
  return a;
}

Vector levels(const SkyMesh& mesh) {
  const int columns = mesh.level.width();
  Vector v(columns * mesh.level.height());
  for (int i = 0; i < v.size(); ++i) v(i) = static_cast<double>(mesh.level.plane()(i % columns, i / columns));
  return v;
}

Vector weighted_fit(const Matrix& a, const Vector& y, const Vector& w) {
  const Vector root = w.cwiseSqrt();
  return (root.asDiagonal() * a).colPivHouseholderQr().solve(root.cwiseProduct(y));
}

// Scatter between neighbouring boxes, where the field is dark: smooth structure of any size drops out.
double local_scatter(const SkyMesh& mesh, const Vector& residual) {
  const int columns = mesh.level.width();
  std::vector<double> sorted(residual.begin(), residual.end());
  const double dark = math::median(std::span<double>(sorted));
  std::vector<double> differences;
  const View<const float> level = mesh.level.plane();
  for (int y = 0; y < level.height; ++y)
    for (int x = 1; x + 1 < columns; ++x)
      if (residual(y * columns + x) <= dark)
        differences.push_back(static_cast<double>(level(x, y) - 0.5f * (level(x - 1, y) + level(x + 1, y))));
  if (differences.size() < 8) return math::mad_sigma(std::span<double>(sorted), dark);
  return math::mad_sigma(std::span<double>(differences), 0.0) / std::sqrt(1.5);
}

// The surface with a tenth of the boxes below it, by reweighting; `scatter` rounds the corner of the absolute value.
Vector low_quantile_fit(const Matrix& a, const Vector& y, double scatter) {
  Vector w = Vector::Ones(y.size());
  Vector c;
  for (int iteration = 0; iteration < 60; ++iteration) {
    c = weighted_fit(a, y, w);
    const Vector r = y - a * c;
    w = r.unaryExpr([&](double d) { return (d > 0 ? kQuantile : 1 - kQuantile) / std::max(std::fabs(d), scatter); });
  }
  return c;
}

struct Channel {
  Vector level;
  Vector coefficients;
  double scatter = 0;  // between neighbours; the unit of the limits
};

std::vector<char> without_neighbours(const std::vector<char>& sky, int columns) {
  const int rows = static_cast<int>(sky.size()) / columns;
  std::vector<char> kept = sky;
  for (int y = 0; y < rows; ++y)
    for (int x = 0; x < columns; ++x)
      for (int dy = -1; dy <= 1; ++dy)
        for (int dx = -1; dx <= 1; ++dx)
          if (x + dx >= 0 && x + dx < columns && y + dy >= 0 && y + dy < rows &&
              sky[static_cast<std::size_t>((y + dy) * columns + x + dx)] == 0)
            kept[static_cast<std::size_t>(y * columns + x)] = 0;
  return kept;
}

std::vector<char> choose(const Matrix& a, const std::vector<Channel>& channels) {
  std::vector<char> sky(static_cast<std::size_t>(a.rows()), 1);
  for (const Channel& c : channels) {
    const Vector r = c.level - a * c.coefficients;
    for (std::size_t i = 0; i < sky.size(); ++i) {
      const double d = r(static_cast<Eigen::Index>(i));
      if (d > kAbove * c.scatter || d < -kBelow * c.scatter) sky[i] = 0;
    }
  }
  return sky;
}

struct Selection {
  int degree = 0;
  Matrix a;
  std::vector<Channel> channels;
  std::vector<char> sky;
  std::ptrdiff_t count = 0;
};

Selection select(std::span<const SkyMesh> meshes, int degree) {
  Selection s{degree, design(meshes[0], degree), {}, {}, 0};
  for (const SkyMesh& mesh : meshes) {
    Channel c{levels(mesh), {}, 0};
    c.scatter = std::max(local_scatter(mesh, c.level), 1e-12);
    c.coefficients = low_quantile_fit(s.a, c.level, c.scatter);
    c.scatter = std::max(local_scatter(mesh, c.level - s.a * c.coefficients), 1e-12);
    s.channels.push_back(std::move(c));
  }
  const int columns = meshes[0].level.width();
  const auto enough = static_cast<std::ptrdiff_t>(3 * sky_terms(degree));
  for (int iteration = 0; iteration < 40; ++iteration) {
    const std::vector<char> candidates = choose(s.a, s.channels);
    std::vector<char> sky = without_neighbours(candidates, columns);
    if (std::count(sky.begin(), sky.end(), 1) < enough) sky = candidates;
    if (std::count(sky.begin(), sky.end(), 1) < enough || sky == s.sky) break;
    s.sky = std::move(sky);
    Vector w(s.a.rows());
    for (Eigen::Index i = 0; i < w.size(); ++i) w(i) = s.sky[static_cast<std::size_t>(i)];
    for (Channel& c : s.channels) c.coefficients = weighted_fit(s.a, c.level, w);
  }
  if (s.sky.empty()) s.sky.assign(static_cast<std::size_t>(s.a.rows()), 0);
  s.count = std::count(s.sky.begin(), s.sky.end(), 1);
  return s;
}

// A quarter of the field without any sky: the surface is a guess there.
bool a_side_is_empty(const std::vector<char>& sky, int columns) {
  const int rows = static_cast<int>(sky.size()) / columns;
  bool any[4] = {};
  for (int y = 0; y < rows; ++y)
    for (int x = 0; x < columns; ++x)
      if (sky[static_cast<std::size_t>(y * columns + x)] != 0)
        any[(2 * y >= rows ? 2 : 0) + (2 * x >= columns ? 1 : 0)] = true;
  return !(any[0] && any[1] && any[2] && any[3]);
}

}  // namespace

double SkyMesh::centre_x(int column) const {
  return 0.5 * (column * box_px + std::min(width, (column + 1) * box_px) - 1);
}
double SkyMesh::centre_y(int row) const {
  return 0.5 * (row * box_px + std::min(height, (row + 1) * box_px) - 1);
}

Result<SkyMesh> sky_mesh(View<const float> image, int box_px, const Context& ctx) {
  SkyMesh mesh{image.width, image.height, box_px, {}};
  if (box_px <= 0) mesh.box_px = std::max(16, std::max(image.width, image.height) / 60);
  const int columns = (image.width + mesh.box_px - 1) / mesh.box_px;
  const int rows = (image.height + mesh.box_px - 1) / mesh.box_px;
  mesh.level = Image<float>(columns, rows);
  const int step = mesh.box_px >= 48 ? 2 : 1;  // some 600 pixels are enough for the level of a box
  NG_CHECK(parallel_for(ctx, rows, [&](int row) {
    std::vector<float> values;
    for (int column = 0; column < columns; ++column) {
      values.clear();
      for (int y = row * mesh.box_px; y < std::min(image.height, (row + 1) * mesh.box_px); y += step)
        for (int x = column * mesh.box_px; x < std::min(image.width, (column + 1) * mesh.box_px); x += step)
          values.push_back(image(x, y));
      mesh.level.plane()(column, row) = math::sky_level(values).level;
    }
  }));
  return mesh;
}

Result<SkyFit> fit_sky(std::span<const SkyMesh> meshes, int degree) {
  const SkyMesh& first = meshes[0];
  const int columns = first.level.width();
  const int boxes = columns * first.level.height();
  if (boxes < 3 * sky_terms(std::max(degree, 0)))
    return Error(Code::kTooFew,
                 "the image is too small for a background surface: switch the step off or lower its degree");
  Selection best = select(meshes, degree < 0 ? std::min(1, boxes / 10) : degree);
  if (degree < 0 && boxes >= 3 * sky_terms(2)) {
    Selection curved = select(meshes, 2);
    if (static_cast<double>(curved.count) > 1.3 * static_cast<double>(best.count)) best = std::move(curved);
  }
  SkyFit fit;
  for (const Channel& c : best.channels) {
    const Vector r = c.level - best.a * c.coefficients;
    double squares = 0;
    for (std::size_t i = 0; i < best.sky.size(); ++i)
      if (best.sky[i] != 0) squares += std::pow(r(static_cast<Eigen::Index>(i)), 2);
    fit.scatter.push_back(std::sqrt(squares / std::max(1.0, static_cast<double>(best.count))));
    fit.surfaces.push_back({first.width, first.height, best.degree, {c.coefficients.begin(), c.coefficients.end()}});
  }
  fit.is_sky = Image<std::uint8_t>(columns, first.level.height());
  for (int i = 0; i < boxes; ++i)
    fit.is_sky.plane()(i % columns, i / columns) = static_cast<std::uint8_t>(best.sky[static_cast<std::size_t>(i)]);
  fit.sky_share = static_cast<double>(best.count) / boxes;
  fit.doubtful = fit.sky_share < 0.05 || a_side_is_empty(best.sky, columns);
  return fit;
}

}  // namespace ng::finish
