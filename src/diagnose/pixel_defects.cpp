#include "diagnose/pixel_defects.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <span>
#include <vector>

#include "base/parallel.h"
#include "math/robust.h"

namespace ng::diagnose {
namespace {

// Sets a bit where `is_defect(x, y)`; counts.
template <typename Test>
Result<std::int64_t> mark(View<std::uint8_t> map, DefectBit bit, const Context& ctx, const Test& is_defect) {
  std::vector<std::int64_t> counts(static_cast<std::size_t>(map.height), 0);
  NG_CHECK(parallel_for(ctx, map.height, [&](int y) {
    for (int x = 0; x < map.width; ++x) {
      if (!is_defect(x, y)) continue;
      map(x, y) = static_cast<std::uint8_t>(map(x, y) | bit);
      ++counts[static_cast<std::size_t>(y)];
    }
  }));
  return std::accumulate(counts.begin(), counts.end(), std::int64_t{0});
}

}  // namespace

Result<std::int64_t> mark_hot(const FrameStack& darks, View<const float> bias, double usual_adu, double noise_adu,
                              const DefectLimits& limits, View<std::uint8_t> map, const Context& ctx) {
  const double half = std::max(1, darks.count() / 2);
  const auto limit = static_cast<float>(
      std::max(limits.hot_times * usual_adu, usual_adu + limits.hot_sigma * noise_adu / std::sqrt(half)));
  return mark(map, kHot, ctx, [&](int x, int y) { return darks.lower(x, y) - bias(x, y) > limit; });
}

Result<std::int64_t> mark_cold(const FrameStack& flats, View<const float> bias, bool mosaic, const DefectLimits& limits,
                               View<std::uint8_t> map, const Context& ctx) {
  const int step = mosaic ? 2 : 1;
  const View<const float> mean = flats.mean();
  return mark(map, kCold, ctx, [&](int x, int y) {
    std::array<float, 8> around{};
    std::size_t n = 0;
    for (int dy = -step; dy <= step; dy += step)
      for (int dx = -step; dx <= step; dx += step) {
        const int px = x + dx, py = y + dy;
        if ((dx == 0 && dy == 0) || px < 0 || py < 0 || px >= map.width || py >= map.height) continue;
        const float v = mean(px, py) - bias(px, py);
        if (std::isfinite(v)) around[n++] = v;
      }
    if (n == 0) return false;
    const float middle = math::median(std::span<float>(around.data(), n));
    return !(flats.upper(x, y) - bias(x, y) >= static_cast<float>(limits.cold_response) * middle);
  });
}

Result<std::int64_t> mark_unsteady(const FrameStack& bias, double variance_adu2, const DefectLimits& limits,
                                   View<std::uint8_t> map, const Context& ctx) {
  if (bias.count() < kFewestForUnsteady) return std::int64_t{0};
  const double k = bias.count() - 1, spread = 2 / (9 * k);
  const auto limit =
      static_cast<float>(variance_adu2 * k * std::pow(1 - spread + limits.unsteady_sigma * std::sqrt(spread), 3));
  return mark(map, kUnsteady, ctx, [&](int x, int y) { return bias.squares()(x, y) > limit; });
}

}  // namespace ng::diagnose
