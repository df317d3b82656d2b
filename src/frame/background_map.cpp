#include "frame/background_map.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <span>

#include "math/robust.h"
#include "math/row_curves.h"

namespace ng {
namespace {

float median_of(const Image<float>& mesh) {
  std::vector<float> values;
  for (int y = 0; y < mesh.height(); ++y) {
    const float* row = mesh.plane().row(y);
    values.insert(values.end(), row, row + mesh.width());
  }
  return math::median(std::span<float>(values));
}

// Mesh coordinate of a pixel: 0 at the centre of box 0.
double mesh_place(double pixel, int box_px) {
  return (pixel + 0.5) / box_px - 0.5;
}

// A line of mesh values, along a row or a column.
struct Line {
  const float* first;
  int n;
  std::ptrdiff_t step;

  // Beyond the ends: the straight line through the last two.
  [[nodiscard]] float at(int k) const {
    if (n == 1) return *first;
    if (k < 0) return first[0] + static_cast<float>(k) * (first[step] - first[0]);
    if (k >= n)
      return first[(n - 1) * step] + static_cast<float>(k - n + 1) * (first[(n - 1) * step] - first[(n - 2) * step]);
    return first[k * step];
  }
};
Line column_of(const Image<float>& mesh, int i) {
  return {mesh.plane().row(0) + i, mesh.height(), mesh.plane().stride};
}

using Cubic = std::array<float, 4>;

// Between the two inner of four points, in powers of t.
Cubic keys(float a, float b, float c, float d) {
  return {b, 0.5f * (c - a), 0.5f * (2 * a - 5 * b + 4 * c - d), 0.5f * (3 * (b - c) + d - a)};
}
Cubic keys(const Line& line, int k) {
  return keys(line.at(k - 1), line.at(k), line.at(k + 1), line.at(k + 2));
}
float value(const Cubic& p, float t) {
  return p[0] + t * (p[1] + t * (p[2] + t * p[3]));
}

// Cubic value at mesh coordinate u; u may lie up to one cell outside.
float cubic(const Line& line, double u) {
  const int k = static_cast<int>(std::floor(u));
  return value(keys(line, k), static_cast<float>(u - k));
}

// Where a straight interpolation between n values stands: of value k and the next, the ends for what lies beyond.
struct Between {
  int k;
  float share;
};
Between between(double u, int n) {
  const double inside = std::clamp(u, 0.0, n - 1.0);
  const int k = std::clamp(static_cast<int>(inside), 0, std::max(0, n - 2));
  return {k, static_cast<float>(inside - k)};
}
float linear(const Line& line, double u) {
  const Between at = between(u, line.n);
  return line.at(at.k) + at.share * (line.at(std::min(at.k + 1, line.n - 1)) - line.at(at.k));
}

// The rows of a mesh; beyond the first and the last continued linearly.
class MeshRows {
 public:
  explicit MeshRows(const Image<float>& mesh) : mesh_(mesh) {}

  // Good until the next call with the same slot.
  const float* at(int k, std::size_t slot) {
    const int n = mesh_.height();
    if (k >= 0 && k < n) return mesh_.plane().row(k);
    if (n == 1) return mesh_.plane().row(0);
    beyond_[slot].resize(static_cast<std::size_t>(mesh_.width()));
    for (int i = 0; i < mesh_.width(); ++i) beyond_[slot][static_cast<std::size_t>(i)] = column_of(mesh_, i).at(k);
    return beyond_[slot].data();
  }

 private:
  const Image<float>& mesh_;
  std::array<std::vector<float>, 4> beyond_;
};

// The mesh interpolated to one line of boxes at height v.
std::vector<float> cubic_line(const Image<float>& mesh, double v) {
  MeshRows rows(mesh);
  const int k = static_cast<int>(std::floor(v));
  const auto t = static_cast<float>(v - k);
  const float* a = rows.at(k - 1, 0);
  const float* b = rows.at(k, 1);
  const float* c = rows.at(k + 1, 2);
  const float* d = rows.at(k + 2, 3);
  std::vector<float> line(static_cast<std::size_t>(mesh.width()));
  for (std::size_t i = 0; i < line.size(); ++i) line[i] = value(keys(a[i], b[i], c[i], d[i]), t);
  return line;
}
std::vector<float> linear_line(const Image<float>& mesh, double v) {
  const Between at = between(v, mesh.height());
  const float* near = mesh.plane().row(at.k);
  const float* next = mesh.plane().row(std::min(at.k + 1, mesh.height() - 1));
  std::vector<float> line(static_cast<std::size_t>(mesh.width()));
  for (std::size_t i = 0; i < line.size(); ++i) line[i] = near[i] + at.share * (next[i] - near[i]);
  return line;
}

// The curve through a line of boxes where the pixels begin ... end - 1 lie, a piece for each cell from centre to centre
// of two boxes. fill(k, piece) tells the polynomials of the cell after box k.
template <typename Fill>
std::vector<math::CurvePiece> pieces_of(int box_px, int begin, int end, const Fill& fill) {
  std::vector<math::CurvePiece> pieces;
  int x = begin;
  for (int k = static_cast<int>(std::floor(mesh_place(begin, box_px))); x < end; ++k) {
    // First pixel at or beyond the next centre, (k + 1.5) box - 0.5.
    const int to = std::min(end, (2 * k + 3) * box_px / 2);
    if (to <= x) continue;
    x = to;
    pieces.push_back({to, static_cast<float>(mesh_place(0, box_px) - k), {}, {}});
    fill(k, pieces.back());
  }
  return pieces;
}

}  // namespace

float BackgroundMap::median_level() const {
  return median_of(level);
}
float BackgroundMap::median_noise() const {
  return median_of(noise);
}

float mesh_at(const Image<float>& mesh, int box_px, double x, double y) {
  // Only the four columns around the place are needed.
  const double u = mesh_place(x, box_px);
  const double v = mesh_place(y, box_px);
  const int k = static_cast<int>(std::floor(u));
  const int first = std::clamp(k - 1, 0, std::max(0, mesh.width() - 4));
  std::array<float, 4> near{};
  const int n = std::min(4, mesh.width());
  for (int i = 0; i < n; ++i) near[static_cast<std::size_t>(i)] = cubic(column_of(mesh, first + i), v);
  return cubic({near.data(), n, 1}, u - first);
}

void mesh_row(const Image<float>& mesh, int box_px, int y, int width, float* out) {
  mesh_row(mesh, box_px, y, 0, width, out);
}

void mesh_row(const Image<float>& mesh, int box_px, int y, int begin, int end, float* out) {
  const std::vector<float> line = cubic_line(mesh, mesh_place(y, box_px));
  const Line values{line.data(), mesh.width(), 1};
  const auto pieces =
      pieces_of(box_px, begin, end, [&](int k, math::CurvePiece& piece) { piece.cubic = keys(values, k); });
  math::fill_cubic(pieces, 1 / static_cast<float>(box_px), begin, out - begin);
}

float mesh_between(const Image<float>& mesh, int box_px, double x, double y) {
  const std::vector<float> line = linear_line(mesh, mesh_place(y, box_px));
  return linear({line.data(), mesh.width(), 1}, mesh_place(x, box_px));
}

void mesh_row_between(const Image<float>& mesh, int box_px, int y, int begin, int end, float* out) {
  const std::vector<float> line = linear_line(mesh, mesh_place(y, box_px));
  const Line values{line.data(), mesh.width(), 1};
  const auto pieces = pieces_of(box_px, begin, end, [&](int k, math::CurvePiece& piece) {
    const float first = linear(values, k);
    piece.cubic = {first, linear(values, k + 1) - first, 0, 0};
  });
  math::fill_cubic(pieces, 1 / static_cast<float>(box_px), begin, out - begin);
}

float BackgroundMap::level_at(double x, double y) const {
  return mesh_at(level, box_px, x, y);
}

void BackgroundMap::standardise_row(int y, const float* row, int begin, int end, float* out) const {
  const std::vector<float> levels = cubic_line(level, mesh_place(y, box_px));
  const std::vector<float> noises = linear_line(noise, mesh_place(y, box_px));
  const Line level_line{levels.data(), level.width(), 1};
  const Line noise_line{noises.data(), noise.width(), 1};
  const auto pieces = pieces_of(box_px, begin, end, [&](int k, math::CurvePiece& piece) {
    piece.cubic = keys(level_line, k);
    const float first = linear(noise_line, k);
    piece.linear = {first, linear(noise_line, k + 1) - first};
  });
  math::standardise(pieces, 1 / static_cast<float>(box_px), row, begin, out);
}

}  // namespace ng
