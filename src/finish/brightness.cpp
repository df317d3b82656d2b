#include "finish/brightness.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "base/parallel.h"
#include "finish/sampling.h"
#include "math/robust.h"

namespace ng::finish {

Result<void> to_brightness(std::array<View<float>, 3> rgb, const Context& ctx) {
  return parallel_for(ctx, rgb[0].height, [&](int y) {
    float* r = rgb[0].row(y);
    float* g = rgb[1].row(y);
    float* b = rgb[2].row(y);
    for (int x = 0; x < rgb[0].width; ++x) {
      const float mean = (r[x] + g[x] + b[x]) * (1.0f / 3);
      r[x] -= mean;
      g[x] = mean;
      b[x] -= mean;
    }
  });
}

Result<void> to_brightness_variance(std::array<View<float>, 3> rgb, const Context& ctx) {
  return parallel_for(ctx, rgb[0].height, [&](int y) {
    float* r = rgb[0].row(y);
    float* g = rgb[1].row(y);
    float* b = rgb[2].row(y);
    for (int x = 0; x < rgb[0].width; ++x) {
      const float mean = (r[x] + g[x] + b[x]) * (1.0f / 9);
      r[x] = mean + r[x] * (1.0f / 3);  // (2/3)^2 = 1/9 + 1/3
      g[x] = mean;
      b[x] = mean + b[x] * (1.0f / 3);
    }
  });
}

Result<void> from_brightness(std::array<View<float>, 3> planes, const Context& ctx) {
  return parallel_for(ctx, planes[0].height, [&](int y) {
    float* r = planes[0].row(y);
    float* g = planes[1].row(y);
    float* b = planes[2].row(y);
    for (int x = 0; x < planes[0].width; ++x) {
      const float mean = g[x];
      g[x] = mean - r[x] - b[x];
      r[x] += mean;
      b[x] += mean;
    }
  });
}

double luminance_factor(View<const float> luminance, View<const float> brightness) {
  constexpr int kBlock = 16;
  std::vector<float> sky = sample(brightness, 200000);
  if (sky.empty()) return 1;
  const math::SkyLevel level = math::sky_level(sky);
  const float low = level.level + std::max(2 * level.sigma, 1e-20f);
  struct Block {
    float ratio;
    float light;
  };
  std::vector<Block> blocks;
  double total = 0;
  for (int y0 = 0; y0 + kBlock <= luminance.height; y0 += kBlock) {
    for (int x0 = 0; x0 + kBlock <= luminance.width; x0 += kBlock) {
      float l = 0;
      float i = 0;
      for (int y = y0; y < y0 + kBlock; ++y) {
        for (int x = x0; x < x0 + kBlock; ++x) {
          l += luminance(x, y);
          i += brightness(x, y);
        }
      }
      if (!(i > low * kBlock * kBlock && l > 0)) continue;
      blocks.push_back({i / l, i});
      total += static_cast<double>(i);
    }
  }
  std::sort(blocks.begin(), blocks.end(), [](const Block& a, const Block& b) { return a.ratio < b.ratio; });
  double below = 0;
  for (const Block& block : blocks) {
    below += static_cast<double>(block.light);
    if (below >= total / 2) return static_cast<double>(block.ratio);
  }
  return 1;
}

Result<void> follow_luminance(std::array<View<float>, 3> planes, View<const float> luminance, double floor,
                              const Context& ctx) {
  constexpr float kMaxRatio = 8;
  const auto f = static_cast<float>(std::max(floor, 1e-20));
  return parallel_for(ctx, luminance.height, [&](int y) {
    const float* l = luminance.row(y);
    float* r = planes[0].row(y);
    float* g = planes[1].row(y);
    float* b = planes[2].row(y);
    for (int x = 0; x < luminance.width; ++x) {
      const float ratio = std::clamp((l[x] + f) / (std::max(g[x], 0.0f) + f), 0.0f, kMaxRatio);
      r[x] *= ratio;
      b[x] *= ratio;
      g[x] = l[x];
    }
  });
}

}  // namespace ng::finish
