#include "app/full_level.h"

#include "math/row_highest.h"

namespace ng::app {
namespace {

constexpr float kFull = 0.999f, kBelow = 0.99f;  // shares of the highest

}  // namespace

void FullLevel::add(View<const float> raw) {
  for (int y = 0; y < raw.height; ++y) {
    const float* row = raw.row(y);
    const float top = math::row_highest(row, raw.width);
    if (top < kBelow * top_) continue;
    if (top > top_) {
      top_ = top;
      highest_.erase(highest_.begin(), highest_.lower_bound(kBelow * top_));
    }
    for (int x = 0; x < raw.width; ++x)
      if (row[x] >= kBelow * top_) ++highest_[row[x]];
  }
}

float FullLevel::level() const {
  const float full = kFull * top_;
  int at_top = 0, under_it = 0;
  for (const auto& [value, pixels] : highest_) (value >= full ? at_top : under_it) += pixels;
  return at_top >= 8 && at_top > under_it ? full : 0;
}

float full_level(View<const float> raw) {
  FullLevel level;
  level.add(raw);
  return level.level();
}

}  // namespace ng::app
