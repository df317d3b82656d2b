#include "math/line_sums.h"

#include <bit>
#include <utility>

namespace ng::math {

Image<float> line_sums(View<const float> image) {
  const int n = static_cast<int>(std::bit_ceil(static_cast<unsigned>(image.width)));
  const int length = image.height + n;
  // Row strip * size + rise: the sums over that strip, by where they begin.
  Image<float> now(length, n, 1, 0.0f), next(length, n);
  for (int x = 0; x < image.width; ++x)
    for (int y = 0; y < image.height; ++y) now.plane()(y + n, x) = image(x, y);
  for (int size = 2; size <= n; size *= 2) {
    for (int strip = 0; strip < n / size; ++strip) {
      for (int rise = 0; rise < size; ++rise) {
        const float* left = now.plane().row(strip * size + rise / 2);
        const float* right = now.plane().row(strip * size + size / 2 + rise / 2);
        float* out = next.plane().row(strip * size + rise);
        const int shift = (rise + 1) / 2;
        const int both = length - shift;
        for (int y = 0; y < both; ++y) out[y] = left[y] + right[y + shift];
        for (int y = both; y < length; ++y) out[y] = left[y];
      }
    }
    std::swap(now, next);
  }
  return now;
}

}  // namespace ng::math
