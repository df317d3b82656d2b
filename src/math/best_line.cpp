#include "math/best_line.h"

#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/best_line.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

// Place of the first highest, -1 if there is none.
int place_of_best(const float* sums, const float* counts, int n, float least) {
  constexpr int kMostLanes = 16;
  const hn::CappedTag<float, kMostLanes> d;
  const hn::RebindToSigned<decltype(d)> di;
  const int lanes = static_cast<int>(hn::Lanes(d));
  // Ratios are compared by their squares with sign, without a quotient: a / b > c / e where a e > c b.
  auto best = hn::Set(d, -std::numeric_limits<float>::infinity());
  auto best_count = hn::Set(d, 1.0f);
  auto at = hn::Set(di, -1);
  for (int x = 0; x < n; x += lanes) {
    const auto inside = hn::FirstN(d, static_cast<std::size_t>(n - x));
    const auto count = hn::MaskedLoad(inside, d, counts + x);
    const auto usable = hn::And(inside, hn::Ge(count, hn::Set(d, least)));
    if (hn::AllFalse(d, usable)) continue;
    const auto sum = hn::MaskedLoad(inside, d, sums + x);
    const auto square = hn::Mul(sum, hn::Abs(sum));
    const auto better = hn::And(usable, hn::Gt(hn::Mul(square, best_count), hn::Mul(best, count)));
    best = hn::IfThenElse(better, square, best);
    best_count = hn::IfThenElse(better, count, best_count);
    at = hn::IfThenElse(hn::RebindMask(di, better), hn::Iota(di, x), at);
  }
  alignas(64) std::array<float, kMostLanes> score_of;
  alignas(64) std::array<std::int32_t, kMostLanes> place_of;
  hn::Store(hn::Div(best, best_count), d, score_of.data());
  hn::Store(at, di, place_of.data());
  std::size_t first = 0;
  for (std::size_t k = 1; k < static_cast<std::size_t>(lanes); ++k) {
    if (place_of[k] < 0) continue;
    if (place_of[first] < 0 || score_of[k] > score_of[first] ||
        (score_of[k] == score_of[first] && place_of[k] < place_of[first]))
      first = k;
  }
  return place_of[first];
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(place_of_best);

Best best_line(const float* sums, const float* counts, int n, float least) {
  const int at = HWY_DYNAMIC_DISPATCH(place_of_best)(sums, counts, n, least);
  if (at < 0) return {};
  return {at, static_cast<double>(sums[at]) / std::sqrt(static_cast<double>(counts[at]))};
}

}  // namespace ng::math
#endif
