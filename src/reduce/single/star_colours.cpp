#include "reduce/single/star_colours.h"

#include <cmath>
#include <span>
#include <vector>

#include "math/robust.h"

namespace ng::reduce {
namespace {

constexpr double kLeastSnr = 20;
constexpr std::size_t kLeastStars = 5;
constexpr int kRing = 2;  // cells on each side of a star that tell what the two greens differ by without it

// Red, green, blue; green in rows of red, green in rows of blue.
using CellLight = std::array<double, 5>;

bool is_red_row(BayerPattern pattern, int y) {
  return bayer_plane(pattern, 0, y) == 0 || bayer_plane(pattern, 1, y) == 0;
}

// Mean over the pixels of each kind in `cells` x `cells` cells from (x0, y0), less the sky there.
CellLight light_in(View<const float> mosaic, BayerPattern pattern, const std::array<double, 3>& sky, int cells, int x0,
                   int y0) {
  CellLight light{};
  for (int y = y0; y < y0 + 2 * cells; ++y) {
    for (int x = x0; x < x0 + 2 * cells; ++x) {
      const int p = bayer_plane(pattern, x, y);
      const double value = static_cast<double>(mosaic(x, y)) - sky[static_cast<std::size_t>(p)];
      light[static_cast<std::size_t>(p)] += value / (cells * cells * (p == 1 ? 2 : 1));
      if (p == 1) light[is_red_row(pattern, y) ? 3 : 4] += value / (cells * cells);
    }
  }
  return light;
}

// The background is one for both greens; what they differ by in the cells around the star is no light of it.
CellLight light_around(View<const float> mosaic, BayerPattern pattern, const std::array<double, 3>& sky, int cells,
                       int x0, int y0) {
  CellLight light = light_in(mosaic, pattern, sky, cells, x0, y0);
  const int wider = cells + 2 * kRing;
  const CellLight all = light_in(mosaic, pattern, sky, wider, x0 - 2 * kRing, y0 - 2 * kRing);
  const double inside = static_cast<double>(cells) * cells, whole = static_cast<double>(wider) * wider;
  const double apart = ((all[3] - all[4]) * whole - (light[3] - light[4]) * inside) / (whole - inside);
  light[3] -= apart / 2;
  light[4] += apart / 2;
  return light;
}

}  // namespace

StarColours star_colours(View<const float> mosaic, BayerPattern pattern, const std::array<BackgroundMap, 3>& background,
                         const StarList& list, double radius_px) {
  const int cells = static_cast<int>(std::ceil(radius_px)) + 1;
  std::vector<double> red, blue, green_rows;
  for (const Star& s : list.stars) {
    if (s.flags != 0 || s.snr() < kLeastSnr) continue;
    const int x0 = 2 * static_cast<int>(std::lround((s.x + 0.5) / 2 - cells / 2.0));
    const int y0 = 2 * static_cast<int>(std::lround((s.y + 0.5) / 2 - cells / 2.0));
    if (x0 < 2 * kRing || y0 < 2 * kRing || x0 + 2 * (cells + kRing) > mosaic.width ||
        y0 + 2 * (cells + kRing) > mosaic.height)
      continue;
    std::array<double, 3> sky{};
    for (std::size_t p = 0; p < 3; ++p) sky[p] = static_cast<double>(background[p].level_at(s.x, s.y));
    const CellLight light = light_around(mosaic, pattern, sky, cells, x0, y0);
    if (!(light[1] > 0 && light[4] > 0) || !std::isfinite(light[0]) || !std::isfinite(light[2])) continue;
    red.push_back(light[0] / light[1]);
    blue.push_back(light[2] / light[1]);
    green_rows.push_back(light[3] / light[4]);
  }
  if (red.size() < kLeastStars) return {};
  return {math::median(std::span<double>(red)), math::median(std::span<double>(blue)),
          math::median(std::span<double>(green_rows))};
}

bool pattern_is_off(const StarColours& colours) {
  if (!(colours.red > 0 && colours.blue > 0 && colours.green_rows > 0)) return false;
  const double greens = std::fabs(std::log(colours.green_rows));
  return greens > std::log(1.1) && greens > 2 * std::fabs(std::log(colours.red / colours.blue));
}

}  // namespace ng::reduce
