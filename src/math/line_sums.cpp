#include "math/line_sums.h"

#include <algorithm>
#include <bit>
#include <utility>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/line_sums.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

void add_rows(const float* a, const float* b, int n, float* sum) {
  const hn::ScalableTag<float> d;
  const int lanes = static_cast<int>(hn::Lanes(d));
  int x = 0;
  for (; x + lanes <= n; x += lanes) hn::StoreU(hn::Add(hn::LoadU(d, a + x), hn::LoadU(d, b + x)), d, sum + x);
  for (; x < n; ++x) sum[x] = a[x] + b[x];
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(add_rows);

namespace {

constexpr int kCached = 64;  // strips that are joined while they lie in the cache

// Joins strips of size / 2 columns two by two, for the columns x0 ... x0 + columns - 1. Row strip * size + rise: the
// sums over that strip, by where they begin.
void join_strips(const Image<float>& halves, int size, int x0, int columns, Image<float>& wholes) {
  const int length = halves.width();
  for (int first = x0; first < x0 + columns; first += size) {
    for (int rise = 0; rise < size; ++rise) {
      const float* left = halves.plane().row(first + rise / 2);
      const float* right = halves.plane().row(first + size / 2 + rise / 2);
      float* out = wholes.plane().row(first + rise);
      const int shift = (rise + 1) / 2;
      const int both = length - shift;
      HWY_DYNAMIC_DISPATCH(add_rows)(left, right + shift, both, out);
      std::copy(left + both, left + length, out + both);
    }
  }
}

}  // namespace

Image<float> line_sums(View<const float> image) {
  const int n = static_cast<int>(std::bit_ceil(static_cast<unsigned>(image.width)));
  const int length = image.height + n;
  Image<float> now(length, n, 1, 0.0f), next(length, n);
  for (int x = 0; x < image.width; ++x)
    for (int y = 0; y < image.height; ++y) now.plane()(y + n, x) = image(x, y);
  const int cached = std::min(n, kCached);
  for (int x0 = 0; x0 < n; x0 += cached) {
    Image<float>* from = &now;
    Image<float>* into = &next;
    for (int size = 2; size <= cached; size *= 2) {
      join_strips(*from, size, x0, cached, *into);
      std::swap(from, into);
    }
  }
  const int done = std::bit_width(static_cast<unsigned>(cached)) - 1;
  if (done % 2 == 1) std::swap(now, next);
  for (int size = 2 * cached; size <= n; size *= 2) {
    join_strips(now, size, 0, n, next);
    std::swap(now, next);
  }
  return now;
}

}  // namespace ng::math
#endif
