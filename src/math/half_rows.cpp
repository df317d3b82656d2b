#include "math/half_rows.h"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/half_rows.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

void halve(const float* upper, const float* lower, int width, float* out) {
  const hn::CappedTag<float, 16> d;
  const int lanes = static_cast<int>(hn::Lanes(d));
  const auto quarter = hn::Set(d, 0.25f);
  int x = 0;
  for (; x + lanes <= width; x += lanes) {
    decltype(hn::Zero(d)) a, b, c, e;
    hn::LoadInterleaved2(d, upper + 2 * x, a, b);
    hn::LoadInterleaved2(d, lower + 2 * x, c, e);
    hn::StoreU(hn::Mul(quarter, hn::Add(hn::Add(a, b), hn::Add(c, e))), d, out + x);
  }
  for (; x < width; ++x) out[x] = 0.25f * ((upper[2 * x] + upper[2 * x + 1]) + (lower[2 * x] + lower[2 * x + 1]));
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(halve);

void half_rows(const float* upper, const float* lower, int width, float* out) {
  HWY_DYNAMIC_DISPATCH(halve)(upper, lower, width, out);
}

}  // namespace ng::math
#endif
