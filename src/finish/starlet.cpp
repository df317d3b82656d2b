#include "finish/starlet.h"

#include <algorithm>
#include <cassert>
#include <cstdlib>

#include "base/parallel.h"

namespace ng::finish {
namespace {

constexpr int kBand = 32;

int mirror(int i, int n) {
  if (n == 1) return 0;
  const int period = 2 * (n - 1);
  i = std::abs(i) % period;
  return i < n ? i : period - i;
}

inline float spline(float a, float b, float c, float d, float e) {
  return 0.375f * c + 0.25f * (b + d) + 0.0625f * (a + e);
}

void smooth_row(const float* in, int width, int gap, float* out) {
  const auto at_border = [&](int x) {
    out[x] = spline(in[mirror(x - 2 * gap, width)], in[mirror(x - gap, width)], in[x], in[mirror(x + gap, width)],
                    in[mirror(x + 2 * gap, width)]);
  };
  const int left = std::min(2 * gap, width);
  const int right = std::max(left, width - 2 * gap);
  for (int x = 0; x < left; ++x) at_border(x);
  for (int x = left; x < right; ++x) out[x] = spline(in[x - 2 * gap], in[x - gap], in[x], in[x + gap], in[x + 2 * gap]);
  for (int x = right; x < width; ++x) at_border(x);
}

}  // namespace

Result<void> starlet_smooth(View<const float> in, int scale, View<float> out, View<float> scratch, const Context& ctx) {
  assert(in.width == out.width && in.height == out.height);
  const int gap = 1 << scale;
  const int bands = (in.height + kBand - 1) / kBand;
  NG_CHECK(parallel_for(ctx, bands, [&](int band) {
    for (int y = band * kBand; y < std::min(in.height, (band + 1) * kBand); ++y)
      smooth_row(in.row(y), in.width, gap, scratch.row(y));
  }));
  return parallel_for(ctx, bands, [&](int band) {
    for (int y = band * kBand; y < std::min(in.height, (band + 1) * kBand); ++y) {
      const float* a = scratch.row(mirror(y - 2 * gap, in.height));
      const float* b = scratch.row(mirror(y - gap, in.height));
      const float* c = scratch.row(y);
      const float* d = scratch.row(mirror(y + gap, in.height));
      const float* e = scratch.row(mirror(y + 2 * gap, in.height));
      float* to = out.row(y);
      for (int x = 0; x < in.width; ++x) to[x] = spline(a[x], b[x], c[x], d[x], e[x]);
    }
  });
}

}  // namespace ng::finish
