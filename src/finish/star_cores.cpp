#include "finish/star_cores.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <functional>
#include <vector>

namespace ng::finish {
namespace {

constexpr std::size_t kRank = 20;
constexpr int kMaxCoreRadius = 60;

struct Pixel {
  int x, y;
};

// All marked pixels connected with the first, cleared on the way.
std::vector<Pixel> take_core(View<std::uint8_t> mark, Pixel first) {
  std::vector<Pixel> core{first};
  mark(first.x, first.y) = 0;
  for (std::size_t i = 0; i < core.size(); ++i) {
    const Pixel p = core[i];
    for (int y = std::max(0, p.y - 1); y <= std::min(mark.height - 1, p.y + 1); ++y)
      for (int x = std::max(0, p.x - 1); x <= std::min(mark.width - 1, p.x + 1); ++x)
        if (mark(x, y) != 0) {
          mark(x, y) = 0;
          core.push_back({x, y});
        }
  }
  return core;
}

// Distance classes around a core: 1 inside core and margin, 2 in the ring.
Image<std::uint8_t> zones(const std::vector<Pixel>& core, const Region& box, const CoreOptions& options) {
  Image<std::uint8_t> zone(box.width, box.height, 1, std::uint8_t{0});
  const View<std::uint8_t> z = zone.plane();
  const int reach = options.margin_px + options.ring_px;
  for (const Pixel& p : core) {
    for (int dy = -reach; dy <= reach; ++dy) {
      for (int dx = -reach; dx <= reach; ++dx) {
        const int x = p.x + dx - box.x0;
        const int y = p.y + dy - box.y0;
        const int d2 = dx * dx + dy * dy;
        if (x < 0 || y < 0 || x >= box.width || y >= box.height || d2 > reach * reach) continue;
        const bool inside = d2 <= options.margin_px * options.margin_px;
        if (inside) {
          z(x, y) = 1;
        } else if (z(x, y) == 0) {
          z(x, y) = 2;
        }
      }
    }
  }
  return zone;
}

bool repair(std::array<View<float>, 3> rgb, const std::vector<Pixel>& core, const CoreOptions& options) {
  const int reach = options.margin_px + options.ring_px;
  const auto [left, right] = std::minmax_element(core.begin(), core.end(), [](Pixel a, Pixel b) { return a.x < b.x; });
  const auto [top, bottom] = std::minmax_element(core.begin(), core.end(), [](Pixel a, Pixel b) { return a.y < b.y; });
  if (right->x - left->x > 2 * kMaxCoreRadius || bottom->y - top->y > 2 * kMaxCoreRadius) return false;  // no star
  const Region box = intersect(
      {left->x - reach, top->y - reach, right->x - left->x + 1 + 2 * reach, bottom->y - top->y + 1 + 2 * reach},
      {0, 0, rgb[0].width, rgb[0].height});
  const Image<std::uint8_t> zone = zones(core, box, options);
  std::array<double, 3> ring{};
  for (int y = 0; y < box.height; ++y)
    for (int x = 0; x < box.width; ++x)
      if (zone.plane()(x, y) == 2)
        for (std::size_t c = 0; c < 3; ++c) ring[c] += std::max(0.0f, rgb[c](box.x0 + x, box.y0 + y));
  const double mean = (ring[0] + ring[1] + ring[2]) / 3;
  if (!(mean > 0)) return false;
  for (int y = 0; y < box.height; ++y) {
    for (int x = 0; x < box.width; ++x) {
      if (zone.plane()(x, y) != 1) continue;
      const int px = box.x0 + x;
      const int py = box.y0 + y;
      const float brightness = (rgb[0](px, py) + rgb[1](px, py) + rgb[2](px, py)) / 3;
      for (std::size_t c = 0; c < 3; ++c) rgb[c](px, py) = brightness * static_cast<float>(ring[c] / mean);
    }
  }
  return true;
}

}  // namespace

float highest_level(View<const float> image) {
  std::vector<float> top;  // a heap of the kRank highest, the lowest of them in front
  for (int y = 0; y < image.height; ++y) {
    for (int x = 0; x < image.width; ++x) {
      const float v = image(x, y);
      if (top.size() < kRank) {
        top.push_back(v);
        std::push_heap(top.begin(), top.end(), std::greater<>());
      } else if (v > top.front()) {
        std::pop_heap(top.begin(), top.end(), std::greater<>());
        top.back() = v;
        std::push_heap(top.begin(), top.end(), std::greater<>());
      }
    }
  }
  return top.empty() ? 0.0f : top.front();
}

int repair_star_cores(std::array<View<float>, 3> rgb, const CoreOptions& options) {
  Image<std::uint8_t> mark(rgb[0].width, rgb[0].height, 1, std::uint8_t{0});
  for (const View<float>& channel : rgb) {
    const float limit = static_cast<float>(options.level_share) * highest_level(channel);
    if (!(limit > 0)) continue;
    for (int y = 0; y < channel.height; ++y)
      for (int x = 0; x < channel.width; ++x)
        if (channel(x, y) > limit) mark.plane()(x, y) = 1;
  }
  int repaired = 0;
  for (int y = 0; y < mark.height(); ++y)
    for (int x = 0; x < mark.width(); ++x)
      if (mark.plane()(x, y) != 0) repaired += repair(rgb, take_core(mark.plane(), {x, y}), options) ? 1 : 0;
  return repaired;
}

}  // namespace ng::finish
