#include "math/usable_sums.h"

#include <algorithm>
#include <cmath>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/usable_sums.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

void add_usable_pixels(const float* row, const std::uint8_t* masked, float clip, int width, float* sum, float* count) {
  const hn::CappedTag<float, 16> d;
  const hn::RebindToSigned<decltype(d)> di;
  const hn::Rebind<std::uint8_t, decltype(d)> bytes;
  const int lanes = static_cast<int>(hn::Lanes(d));
  const auto top = hn::Set(d, clip), bottom = hn::Set(d, -clip);
  int x = 0;
  for (; x + lanes <= width; x += lanes) {
    const auto v = hn::LoadU(d, row + x);
    const auto mask = hn::PromoteTo(di, hn::LoadU(bytes, masked + x));
    const auto free = hn::RebindMask(d, hn::Eq(mask, hn::Zero(di)));
    const auto use = hn::AndNot(hn::IsNaN(v), free);
    const auto held = hn::Min(hn::Max(v, bottom), top);
    hn::StoreU(hn::Add(hn::LoadU(d, sum + x), hn::IfThenElseZero(use, held)), d, sum + x);
    hn::StoreU(hn::Add(hn::LoadU(d, count + x), hn::IfThenElseZero(use, hn::Set(d, 1.0f))), d, count + x);
  }
  for (; x < width; ++x) {
    if (masked[x] != 0 || std::isnan(row[x])) continue;
    sum[x] += std::clamp(row[x], -clip, clip);
    count[x] += 1;
  }
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(add_usable_pixels);

void add_usable(const float* row, const std::uint8_t* masked, float clip, int width, float* sum, float* count) {
  HWY_DYNAMIC_DISPATCH(add_usable_pixels)(row, masked, clip, width, sum, count);
}

}  // namespace ng::math
#endif
