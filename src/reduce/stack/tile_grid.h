// reduce/stack/tile_grid.h - square tiles that overlap and cover a picture, and how their results are joined.
//
// Tiles stand every kStep pixels. Of each, kMargin pixels at the border are worked on and thrown away: what runs over a
// tile's edge comes back at the opposite one. Over the next 2 kRamp pixels neighbours fade into each other, with
// weights that add up to 1. At the border of the picture nobody fades. The cores, kStep pixels wide, belong to one tile
// each.
#pragma once

#include <algorithm>
#include <cmath>

#include "base/angle.h"

namespace ng::reduce {

// Along one axis of `length` pixels.
struct TileGrid {
  static constexpr int kSide = 512;
  static constexpr int kMargin = 32;
  static constexpr int kRamp = 16;
  static constexpr int kStep = kSide - 2 * kMargin - 2 * kRamp;

  int length = 0;

  [[nodiscard]] int count() const { return (length + kStep - 1) / kStep; }
  [[nodiscard]] static int core(int tile) { return tile * kStep; }  // first pixel
  [[nodiscard]] int core_end(int tile) const { return std::min(length, core(tile + 1)); }
  [[nodiscard]] static int origin(int tile) { return core(tile) - kRamp - kMargin; }
  [[nodiscard]] static double middle(int tile) { return origin(tile) + (kSide - 1) / 2.0; }
  // Pixels with a weight: from ... to - 1.
  [[nodiscard]] int from(int tile) const { return std::max(0, core(tile) - kRamp); }
  [[nodiscard]] int to(int tile) const { return std::min(length, core(tile + 1) + kRamp); }
  [[nodiscard]] float weight(int tile, int at) const {
    const auto rise = [](int steps) {  // 0 ... 2 kRamp - 1; rise(i) + rise(2 kRamp - 1 - i) = 1
      const double s = std::sin(kPi / 2 * (std::clamp(steps, 0, 2 * kRamp - 1) + 0.5) / (2 * kRamp));
      return steps < 0 ? 0.0 : steps >= 2 * kRamp ? 1.0 : s * s;
    };
    const double left = tile == 0 ? 1 : rise(at - core(tile) + kRamp);
    const double right = tile == count() - 1 ? 1 : rise(core(tile + 1) + kRamp - 1 - at);
    return static_cast<float>(left * right);
  }
};

}  // namespace ng::reduce
