#include "math/pick_above.h"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/pick_above.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

// Room for a whole vector behind the last value that is kept: `at` and `value` hold width + lanes.
std::size_t pick(const float* row, int width, float threshold, std::int32_t* at, float* value) {
  const hn::CappedTag<float, 16> d;
  const hn::RebindToSigned<decltype(d)> di;
  const int lanes = static_cast<int>(hn::Lanes(d));
  std::size_t n = 0;
  for (int x = 0; x < width; x += lanes) {
    const auto inside = hn::FirstN(d, static_cast<std::size_t>(width - x));
    const auto v = x + lanes <= width ? hn::LoadU(d, row + x) : hn::MaskedLoad(inside, d, row + x);
    const auto above = hn::And(inside, hn::Gt(v, hn::Set(d, threshold)));
    if (hn::AllFalse(d, above)) continue;
    // Storing a compressed vector whole is quicker than storing its part.
    hn::StoreU(hn::Compress(hn::Iota(di, x), hn::RebindMask(di, above)), di, at + n);
    hn::StoreU(hn::Compress(v, above), d, value + n);
    n += hn::CountTrue(d, above);
  }
  return n;
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(pick);

void pick_above(const float* row, int width, float threshold, Picked& picked) {
  picked.at.resize(static_cast<std::size_t>(width) + 16);
  picked.value.resize(picked.at.size());
  const std::size_t n = HWY_DYNAMIC_DISPATCH(pick)(row, width, threshold, picked.at.data(), picked.value.data());
  picked.at.resize(n);
  picked.value.resize(n);
}

}  // namespace ng::math
#endif
