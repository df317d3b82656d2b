#include "reduce/single/bridge.h"

#include <array>
#include <cmath>
#include <cstring>
#include <span>

#include "math/robust.h"

namespace ng::reduce {
namespace {

// Median of the valid pixels on the ring of the given distance; NaN when there is none.
float ring_median(View<const float> rows, View<const std::uint8_t> bad, int x, int y, int distance) {
  std::array<float, 8> values{};
  std::size_t n = 0;
  for (int dy = -distance; dy <= distance; dy += distance) {
    for (int dx = -distance; dx <= distance; dx += distance) {
      const int px = x + dx;
      const int py = y + dy;
      if ((dx == 0 && dy == 0) || px < 0 || py < 0 || px >= rows.width || py >= rows.height || bad(px, py) != 0)
        continue;
      values[n++] = rows(px, py);
    }
  }
  return n == 0 ? std::nanf("") : math::median_of_few(std::span(values).first(n));
}

}  // namespace

void bridge_bad_pixels(View<float> rows, View<const std::uint8_t> bad, int step, int first, int last) {
  for (int y = first; y < last; ++y) {
    const std::uint8_t* mask = bad.row(y);
    for (int x = 0; x < rows.width; ++x) {
      const void* next = std::memchr(mask + x, 1, static_cast<std::size_t>(rows.width - x));
      if (next == nullptr) break;
      x = static_cast<int>(static_cast<const std::uint8_t*>(next) - mask);
      float value = std::nanf("");
      for (int ring = 1; ring <= 4 && std::isnan(value); ++ring) value = ring_median(rows, bad, x, y, ring * step);
      rows(x, y) = std::isnan(value) ? 0 : value;
    }
  }
}

}  // namespace ng::reduce
