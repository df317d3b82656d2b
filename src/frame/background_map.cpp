#include "frame/background_map.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <span>

#include "math/robust.h"

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

// Coefficients of the cubic between the two inner of four points, in powers of t.
std::array<float, 4> keys(const Line& line, int k) {
  const float a = line.at(k - 1), b = line.at(k), c = line.at(k + 1), d = line.at(k + 2);
  return {b, 0.5f * (c - a), 0.5f * (2 * a - 5 * b + 4 * c - d), 0.5f * (3 * (b - c) + d - a)};
}
float value(const std::array<float, 4>& p, float t) {
  return p[0] + t * (p[1] + t * (p[2] + t * p[3]));
}

// Cubic value at mesh coordinate u; u may lie up to one cell outside.
float cubic(const Line& line, double u) {
  const int k = static_cast<int>(std::floor(u));
  return value(keys(line, k), static_cast<float>(u - k));
}

float linear(const Line& line, double u) {
  if (line.n == 1) return *line.first;
  const double inside = std::clamp(u, 0.0, line.n - 1.0);
  const int k = std::min(static_cast<int>(inside), line.n - 2);
  return line.at(k) + static_cast<float>(inside - k) * (line.at(k + 1) - line.at(k));
}

// The mesh interpolated to one line of boxes at height v.
template <typename Interpolate>
std::vector<float> mesh_line(const Image<float>& mesh, double v, const Interpolate& interpolate) {
  std::vector<float> line(static_cast<std::size_t>(mesh.width()));
  for (int i = 0; i < mesh.width(); ++i) line[static_cast<std::size_t>(i)] = interpolate(column_of(mesh, i), v);
  return line;
}

// Calls use(k, begin, end, shift, scale) for the cells of a row, from centre to centre of two boxes; within one the
// curve is one cubic of t = shift + x scale, 0 <= t < 1.
template <typename Use>
void for_each_cell(int box_px, int width, const Use& use) {
  int x = 0;
  for (int k = -1; x < width; ++k) {
    // First pixel at or beyond the next centre, (k + 1.5) box - 0.5.
    const int end = std::min(width, (2 * k + 3) * box_px / 2);
    use(k, x, end, static_cast<float>(mesh_place(0, box_px) - k), 1 / static_cast<float>(box_px));
    x = std::max(x, end);
  }
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
  const std::vector<float> line = mesh_line(mesh, mesh_place(y, box_px), cubic);
  const Line values{line.data(), mesh.width(), 1};
  for_each_cell(box_px, width, [&](int k, int begin, int end, float shift, float scale) {
    const std::array<float, 4> p = keys(values, k);
    for (int x = begin; x < end; ++x) out[x] = value(p, shift + static_cast<float>(x) * scale);
  });
}

float BackgroundMap::level_at(double x, double y) const {
  return mesh_at(level, box_px, x, y);
}

void BackgroundMap::evaluate_row(int y, float* level_out, float* noise_out) const {
  mesh_row(level, box_px, y, width, level_out);
  const std::vector<float> line = mesh_line(noise, mesh_place(y, box_px), linear);
  const Line values{line.data(), noise.width(), 1};
  for_each_cell(box_px, width, [&](int k, int begin, int end, float shift, float scale) {
    const float first = linear(values, k);
    const float slope = linear(values, k + 1) - first;
    for (int x = begin; x < end; ++x) noise_out[x] = first + (shift + static_cast<float>(x) * scale) * slope;
  });
}

}  // namespace ng
