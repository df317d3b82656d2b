#include "math/line_sums.h"

#include <algorithm>
#include <bit>
#include <cstddef>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/line_sums.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

// Lines that rise by `rise` over a strip, from those over its halves, which rise by half as much: the right half is met
// `shift` rows higher. A row begins with the line that meets the lowest pixel last, so that a line has the place of its
// right half.
void join_line(const std::int32_t* left, const std::int32_t* right, int height, int rise, std::int32_t* line) {
  const hn::ScalableTag<std::int32_t> d;
  const int lanes = static_cast<int>(hn::Lanes(d));
  const int shift = (rise + 1) / 2;
  const int half = height + rise / 2;
  const int both = half - shift;
  if (both < lanes) {
    std::copy(right, right + shift, line);
    for (int i = shift; i < half; ++i) line[i] = left[i - shift] + right[i];
    std::copy(left + both, left + half, line + half);
    return;
  }
  // Whole vectors throughout. What only one half meets comes first and reaches into the middle by less than a vector,
  // where the sums overwrite it; the first and the last vector of sums may overlap their neighbours.
  for (int i = 0; i < shift; i += lanes) hn::StoreU(hn::LoadU(d, right + i), d, line + i);
  for (int i = half + shift; i > half; i -= lanes)
    hn::StoreU(hn::LoadU(d, left + i - lanes - shift), d, line + i - lanes);
  const auto add = [&](int i) __attribute__((always_inline)) {
    hn::StoreU(hn::Add(hn::LoadU(d, left + i - shift), hn::LoadU(d, right + i)), d, line + i);
  };
  add(shift);
  for (int i = (shift + lanes - 1) / lanes * lanes; i + lanes <= half; i += lanes) add(i);  // aligned but for the left
  add(half - lanes);
}

// Of all strips, which lie side by side. The last may have no right half.
void join_strips(View<const std::int32_t> halves, int height, int rise, View<std::int32_t> strips) {
  for (int k = 0; k < strips.height; ++k) {
    const std::int32_t* left = halves.row(2 * k);
    if (2 * k + 1 < halves.height) {
      join_line(left, halves.row(2 * k + 1), height, rise, strips.row(k));
    } else {
      const int shift = (rise + 1) / 2;
      std::fill_n(strips.row(k), shift, 0);
      std::copy_n(left, height + rise / 2, strips.row(k) + shift);
    }
  }
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(join_strips);

namespace {

constexpr int kLine = 64 / static_cast<int>(sizeof(std::int32_t));  // rows begin where a line of the cache does

int stride_of(int width) {
  return (width + kLine - 1) / kLine * kLine;
}

// Strips of one size that all rise by the same are joined to the next size at once, for the two rises that follow from
// theirs, one after the other, to the end: of each size those of one rise alone are held, and all stays in the cache.
struct Joining {
  int columns, height;
  const LineSums::Lines& lines;

  // `room`: memory for what follows from the strips.
  void follow(View<const std::int32_t> strips, int size, int rise, std::int32_t* room) const {
    if (size == columns) return lines(rise, {strips.row(0), static_cast<std::size_t>(height + rise)});
    const int width = height + 2 * size - 1;
    const View<std::int32_t> next{room, width, (strips.height + 1) / 2, stride_of(width)};
    for (const int r : {2 * rise, 2 * rise + 1}) {
      HWY_DYNAMIC_DISPATCH(join_strips)(strips, height, r, next);
      follow(next, 2 * size, r, room + next.height * next.stride);
    }
  }
};

}  // namespace

int summed_columns(int width) {
  return static_cast<int>(std::bit_ceil(static_cast<unsigned>(width)));
}

void LineSums::add_up(View<const std::int32_t> columns, const Lines& lines) {
  const int n = summed_columns(columns.height);
  int needed = 0;
  for (int size = 2; size <= n; size *= 2)
    needed += (columns.height + size - 1) / size * stride_of(columns.width + size - 1);
  if (memory_.width() < needed) memory_ = Image<std::int32_t>(needed, 1);
  Joining{n, columns.width, lines}.follow(columns, 1, 0, memory_.plane().data);
}

}  // namespace ng::math
#endif
