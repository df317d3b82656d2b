#include "math/weighted_rows.h"

#include <cassert>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/weighted_rows.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

void sum_weighted(std::span<const float* const> rows, std::span<const float> weights, int width, float* out) {
  const hn::ScalableTag<float> d;
  const int lanes = static_cast<int>(hn::Lanes(d));
  int x = 0;
  for (; x + 2 * lanes <= width; x += 2 * lanes) {  // two sums side by side hide each other's latency
    auto a = hn::Zero(d), b = hn::Zero(d);
    for (std::size_t k = 0; k < rows.size(); ++k) {
      const auto w = hn::Set(d, weights[k]);
      a = hn::MulAdd(w, hn::LoadU(d, rows[k] + x), a);
      b = hn::MulAdd(w, hn::LoadU(d, rows[k] + x + lanes), b);
    }
    hn::StoreU(a, d, out + x);
    hn::StoreU(b, d, out + x + lanes);
  }
  const hn::CappedTag<float, 1> one;  // the same fused operations for the rest: the same bits wherever a row ends
  for (; x < width; ++x) {
    auto a = hn::Zero(one);
    for (std::size_t k = 0; k < rows.size(); ++k)
      a = hn::MulAdd(hn::Set(one, weights[k]), hn::LoadU(one, rows[k] + x), a);
    hn::StoreU(a, one, out + x);
  }
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(sum_weighted);

void sum_weighted_rows(std::span<const float* const> rows, std::span<const float> weights, int width, float* out) {
  assert(rows.size() == weights.size());
  HWY_DYNAMIC_DISPATCH(sum_weighted)(rows, weights, width, out);
}

}  // namespace ng::math
#endif
