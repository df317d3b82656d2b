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

}  // namespace

float BackgroundMap::median_level() const {
  return median_of(level);
}
float BackgroundMap::median_noise() const {
  return median_of(noise);
}

float BackgroundMap::level_at(double x, double y) const {
  // Only the four columns around the place are needed.
  const double u = mesh_place(x, box_px);
  const double v = mesh_place(y, box_px);
  const int k = static_cast<int>(std::floor(u));
  const int first = std::clamp(k - 1, 0, std::max(0, level.width() - 4));
  std::array<float, 4> near{};
  const int n = std::min(4, level.width());
  for (int i = 0; i < n; ++i) near[static_cast<std::size_t>(i)] = cubic(column_of(level, first + i), v);
  return cubic({near.data(), n, 1}, u - first);
}

void BackgroundMap::evaluate_row(int y, float* level_out, float* noise_out) const {
  const double v = mesh_place(y, box_px);
  const std::vector<float> level_line = mesh_line(level, v, cubic);
  const std::vector<float> noise_line = mesh_line(noise, v, linear);
  const Line levels{level_line.data(), level.width(), 1};
  const Line noises{noise_line.data(), noise.width(), 1};
  // Within one cell, from centre to centre of two boxes, the curve is one cubic: its coefficients are found once.
  const float scale = 1 / static_cast<float>(box_px);
  int x = 0;
  for (int k = -1; x < width; ++k) {
    const std::array<float, 4> p = keys(levels, k);
    const float s0 = linear(noises, k);
    const float slope = linear(noises, k + 1) - s0;
    // First pixel at or beyond the next centre, (k + 1.5) box - 0.5.
    const int end = std::min(width, (2 * k + 3) * box_px / 2);
    const auto shift = static_cast<float>(mesh_place(0, box_px) - k);
    for (; x < end; ++x) {
      const float t = shift + static_cast<float>(x) * scale;
      level_out[x] = value(p, t);
      noise_out[x] = s0 + t * slope;
    }
  }
}

}  // namespace ng
