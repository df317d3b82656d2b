#include "reduce/single/defects.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "base/parallel.h"
#include "math/robust.h"
#include "math/sampled.h"

namespace ng::reduce {
namespace {

float hot_limit(View<const float> dark, double kappa) {
  std::vector<float> values = math::sampled(dark);
  const float level = math::median(std::span<float>(values));
  const float sigma = math::mad_sigma(std::span<float>(values), level);
  return static_cast<float>(level + kappa * sigma);
}

}  // namespace

Result<Image<std::uint8_t>> defects_from_masters(View<const float> dark, View<const float> flat, int width, int height,
                                                 const DefectOptions& options, const Context& ctx) {
  Image<std::uint8_t> map(width, height);
  const float hot = dark.empty() ? 0 : hot_limit(dark, options.dark_kappa);
  NG_CHECK(parallel_for(ctx, height, [&](int y) {
    std::uint8_t* out = map.plane().row(y);
    const float* dark_row = dark.empty() ? nullptr : dark.row(y);
    const float* flat_row = flat.empty() ? nullptr : flat.row(y);
    for (int x = 0; x < width; ++x) {
      const bool is_hot = dark_row != nullptr && !(dark_row[x] <= hot);
      const bool is_cold = flat_row != nullptr && !(flat_row[x] >= options.cold_response);
      out[x] = static_cast<std::uint8_t>(is_hot || is_cold);
    }
  }));
  return map;
}

Result<void> vote_spikes(View<const float> frame, float noise, int step, double kappa, View<std::uint8_t> votes,
                         const Context& ctx) {
  const auto limit = static_cast<float>(kappa * noise);
  return parallel_for(ctx, frame.height, [&](int y) {
    if (y < step || y >= frame.height - step) return;
    const float* up = frame.row(y - step);
    const float* row = frame.row(y);
    const float* down = frame.row(y + step);
    for (int x = step; x < frame.width - step; ++x) {
      const float v = row[x];
      const float nearest = std::max({up[x], down[x], row[x - step], row[x + step]});
      if (!(v - nearest > limit)) continue;
      std::array<float, 8> ring = {up[x - step],  up[x],          up[x + step], row[x - step],
                                   row[x + step], down[x - step], down[x],      down[x + step]};
      const float middle = math::median(std::span<float>(ring));
      const float height = v - middle;
      const float around = (up[x] + down[x] + row[x - step] + row[x + step]) / 4 - middle;
      if (height > limit && around < 0.25f * height && votes(x, y) < 255) ++votes(x, y);
    }
  });
}

}  // namespace ng::reduce
