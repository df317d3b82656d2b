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

// Value of a mesh line beyond its ends: the straight line through the last two.
float beyond(const float* line, int n, int k) {
  if (n == 1) return line[0];
  if (k < 0) return line[0] + static_cast<float>(k) * (line[1] - line[0]);
  if (k >= n) return line[n - 1] + static_cast<float>(k - n + 1) * (line[n - 1] - line[n - 2]);
  return line[k];
}

float keys(const std::array<float, 4>& p, float t) {
  return p[1] +
         0.5f * t * (p[2] - p[0] + t * (2 * p[0] - 5 * p[1] + 4 * p[2] - p[3] + t * (3 * (p[1] - p[2]) + p[3] - p[0])));
}

// Cubic value at mesh coordinate u of a line of n values; u may lie up to one cell outside.
float cubic(const float* line, int n, double u) {
  const int k = static_cast<int>(std::floor(u));
  const auto t = static_cast<float>(u - k);
  return keys({beyond(line, n, k - 1), beyond(line, n, k), beyond(line, n, k + 1), beyond(line, n, k + 2)}, t);
}

float linear(const float* line, int n, double u) {
  const double inside = std::clamp(u, 0.0, n - 1.0);
  const int k = std::min(static_cast<int>(inside), std::max(0, n - 2));
  if (n == 1) return line[0];
  const auto t = static_cast<float>(inside - k);
  return line[k] + t * (line[k + 1] - line[k]);
}

// The mesh interpolated to one line of boxes at height v.
template <typename Interpolate>
std::vector<float> mesh_line(const Image<float>& mesh, double v, const Interpolate& interpolate) {
  std::vector<float> column(static_cast<std::size_t>(mesh.height()));
  std::vector<float> line(static_cast<std::size_t>(mesh.width()));
  for (int i = 0; i < mesh.width(); ++i) {
    for (int j = 0; j < mesh.height(); ++j) column[static_cast<std::size_t>(j)] = mesh.plane().row(j)[i];
    line[static_cast<std::size_t>(i)] = interpolate(column.data(), mesh.height(), v);
  }
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
  const auto line = mesh_line(level, mesh_place(y, box_px), cubic);
  return cubic(line.data(), level.width(), mesh_place(x, box_px));
}

void BackgroundMap::evaluate_row(int y, float* level_out, float* noise_out) const {
  const double v = mesh_place(y, box_px);
  const auto level_line = mesh_line(level, v, cubic);
  const auto noise_line = mesh_line(noise, v, linear);
  const int n = level.width();
  // Within one cell the curve is one cubic: its coefficients are found once per cell.
  for (int x = 0; x < width;) {
    const int k = static_cast<int>(std::floor(mesh_place(x, box_px)));
    const std::array<float, 4> p = {beyond(level_line.data(), n, k - 1), beyond(level_line.data(), n, k),
                                    beyond(level_line.data(), n, k + 1), beyond(level_line.data(), n, k + 2)};
    const float s0 = linear(noise_line.data(), n, k);
    const float s1 = linear(noise_line.data(), n, k + 1);
    for (; x < width; ++x) {
      const auto t = static_cast<float>(mesh_place(x, box_px) - k);
      if (t >= 1) break;
      level_out[x] = keys(p, t);
      noise_out[x] = s0 + t * (s1 - s0);
    }
  }
}

}  // namespace ng
