#include "math/best_line.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>

#include "math/counted.h"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/best_line.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

// Place of the first highest above `than`, -1 if there is none.
int place_of_best(const std::int32_t* sums, int n, int least, float than) {
  constexpr int kMostLanes = 16;
  const hn::CappedTag<std::int32_t, kMostLanes> di;
  const hn::RebindToFloat<decltype(di)> d;
  const int lanes = static_cast<int>(hn::Lanes(d));
  // Ratios are compared by their squares with sign, without a quotient: a / b > c / e where a e > c b.
  auto best = hn::Set(d, than * std::fabs(than) * kCountedSteps * kCountedSteps);
  auto best_count = hn::Set(d, 1.0f);
  auto at = hn::Set(di, -1);
  const auto look = [&](auto both, int x) __attribute__((always_inline)) {
    const auto terms = hn::And(both, hn::Set(di, kCountMask));
    const auto usable = hn::RebindMask(d, hn::Gt(terms, hn::Set(di, least - 1)));
    const auto count = hn::ConvertTo(d, terms);
    const auto sum = hn::ConvertTo(d, hn::ShiftRight<kCountBits>(both));
    const auto square = hn::Mul(sum, hn::Abs(sum));
    const auto better = hn::And(usable, hn::Gt(hn::Mul(square, best_count), hn::Mul(best, count)));
    if (hn::AllFalse(d, better)) return;
    best = hn::IfThenElse(better, square, best);
    best_count = hn::IfThenElse(better, count, best_count);
    at = hn::IfThenElse(hn::RebindMask(di, better), hn::Iota(di, x), at);
  };
  int x = 0;
  for (; x + lanes <= n; x += lanes) look(hn::LoadU(di, sums + x), x);
  alignas(64) std::array<std::int32_t, kMostLanes> rest{};  // beyond the end: sums of no term
  std::copy(sums + x, sums + n, rest.begin());
  look(hn::Load(di, rest.data()), x);
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

Best best_line(std::span<const std::int32_t> sums, int least, double than) {
  const int at = HWY_DYNAMIC_DISPATCH(place_of_best)(sums.data(), static_cast<int>(sums.size()), std::max(1, least),
                                                     static_cast<float>(than));
  if (at < 0) return {};
  const std::int32_t best = sums[static_cast<std::size_t>(at)];
  const double snr = static_cast<double>(value_of(best)) / std::sqrt(count_of(best));
  return snr > than ? Best{at, snr} : Best{};
}

}  // namespace ng::math
#endif
