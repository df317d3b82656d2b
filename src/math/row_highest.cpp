#include "math/row_highest.h"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/row_highest.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

float highest(const float* row, int width) {
  const hn::ScalableTag<float> d;
  const int lanes = static_cast<int>(hn::Lanes(d));
  auto a = hn::Zero(d), b = a;  // two side by side hide each other's latency
  const auto higher = [&](auto best, auto v) { return hn::IfThenElse(hn::Gt(v, best), v, best); };
  int x = 0;
  for (; x + 2 * lanes <= width; x += 2 * lanes) {
    a = higher(a, hn::LoadU(d, row + x));
    b = higher(b, hn::LoadU(d, row + x + lanes));
  }
  float best = hn::GetLane(hn::MaxOfLanes(d, higher(a, b)));
  for (; x < width; ++x) best = row[x] > best ? row[x] : best;
  return best;
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(highest);

float row_highest(const float* row, int width) {
  return HWY_DYNAMIC_DISPATCH(highest)(row, width);
}

}  // namespace ng::math
#endif
