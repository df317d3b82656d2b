#include "math/combine.h"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>

#include "math/columns_ahead.h"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/combine.cpp"
#include <hwy/cache_control.h>
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

#ifndef NG_MATH_COMBINE_ROW
#define NG_MATH_COMBINE_ROW
namespace ng::math {

// The arguments of combine_rows() that are only read.
struct CombineRow {
  std::span<const CombineInput> inputs;
  std::span<const float> coverage_of;
  const float* median;
  const float* sky;
  const float* slope;
  int width;
  const CombineOptions& options;
};

}  // namespace ng::math
#endif

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

using D = hn::CappedTag<float, kRowPadding>;
using V = hn::Vec<D>;

constexpr float kLeastWeight = 1e-30f;

// Whether nothing is rejected around the median, nor around a centre that lies `shift` from it, is told from the
// median alone: (|off| + |shift|)^2 <= 288/289 x 17/16 (off^2 + 17 shift^2), and signal and the centre's own variance
// only widen the limit. So nothing is where off^2 + 17 shift^2 <= 16/17 limit2 (bare + slope2); the 288/289 are to
// spare for rounding.
constexpr float kLimitShare = 16.0f / 17.0f;
constexpr float kShiftFactor = 17.0f;

// Everything that a pass over the columns x ... x + lanes needs to know.
struct Columns {
  std::span<const CombineInput> inputs;
  std::span<const float> coverage_of;
  const CombineOptions& options;
  int x, ahead;
  V sky, slope2;
};

struct Sums {
  V weight, value, variance, sky_variance, coverage, rejected;
};

// Bits of the lanes at x within the word of their group.
HWY_INLINE int shift_of(int x) {
  return x % kHitPixels;
}

HWY_INLINE hn::Mask<D> load_hits(const HitWord* row, int x) {
  const D d;
  const auto bits = static_cast<HitWord>(row[x / kHitPixels] >> shift_of(x));
  std::uint8_t bytes[8] = {};
  std::memcpy(bytes, &bits, sizeof bits);
  return hn::LoadMaskBits(d, bytes);
}

// The word must have been cleared before the first lanes of its group.
HWY_INLINE void store_hits(hn::Mask<D> hits, int x, HitWord* row) {
  const D d;
  std::uint8_t bytes[8] = {};
  hn::StoreMaskBits(d, hits, bytes);
  HitWord bits;
  std::memcpy(&bits, bytes, sizeof bits);
  row[x / kHitPixels] = static_cast<HitWord>(row[x / kHitPixels] | (bits << shift_of(x)));
}

// One pass of rejection around `centre`, whose own variance is `centre_variance`, in the lanes that are `noisy`.
// `near`: rows of hits that lower the limit, or empty; `hits`: rows to mark, or empty.
HWY_INLINE Sums reject_and_sum(const Columns& c, hn::Mask<D> noisy, V centre, V centre_variance,
                               std::span<const HitWord* const> near, std::span<HitWord* const> hits) {
  const D d;
  const V zero = hn::Zero(d);
  const V kappa2 = hn::Set(d, c.options.kappa * c.options.kappa);
  const V near2 = hn::Set(d, c.options.kappa * c.options.kappa * c.options.near_share * c.options.near_share);
  const V signal = hn::Max(hn::Sub(centre, c.sky), zero);
  Sums s{zero, zero, zero, zero, zero, zero};
  for (std::size_t j = 0; j < c.inputs.size(); ++j) {
    const CombineInput& in = c.inputs[j];
    const V y = hn::LoadU(d, in.values + c.x);
    const V off = hn::Sub(y, centre);
    const V bare = hn::LoadU(d, in.variance + c.x);
    const V u = hn::MulAdd(hn::Mul(signal, hn::Set(d, in.signal_share)), bare, bare);
    const V limit2 = near.empty() ? kappa2 : hn::IfThenElse(load_hits(near[j], c.x), near2, kappa2);
    const V allowed = hn::Mul(limit2, hn::Add(hn::Add(u, centre_variance), c.slope2));
    const auto valid = hn::Not(hn::IsNaN(y));
    const auto wild = hn::And(valid, hn::And(hn::Gt(hn::Mul(off, off), allowed), noisy));
    const auto kept = hn::AndNot(wild, valid);
    V weight = hn::Set(d, in.weight);
    if (in.fade != nullptr) weight = hn::Mul(weight, hn::LoadU(d, in.fade + c.x));
    const V w = hn::IfThenElseZero(kept, weight);
    s.weight = hn::Add(s.weight, w);
    s.value = hn::MulAdd(w, hn::IfThenElseZero(kept, off), s.value);
    const V w2 = hn::Mul(w, w);  // 0 where nothing is kept; variances are numbers everywhere
    s.variance = hn::MulAdd(w2, u, s.variance);
    s.sky_variance = hn::MulAdd(w2, bare, s.sky_variance);
    s.coverage = hn::Add(s.coverage, hn::IfThenElseZero(kept, hn::Set(d, c.coverage_of[j])));
    if (hn::AllFalse(d, wild)) continue;  // nearly always
    s.rejected = hn::Add(s.rejected, hn::IfThenElseZero(wild, hn::Set(d, 1.0f)));
    if (!hits.empty()) store_hits(wild, c.x, hits[j]);
  }
  return s;
}

// Sums over all valid inputs.
struct QuietSums {
  V valid, weight, value, sky_variance, coverage;
  V signal_variance;  // per unit of signal
  V excess;           // largest off^2 - 16/17 limit2 (bare + slope2)
};

HWY_INLINE QuietSums sum_all(const Columns& c, V centre, std::span<const HitWord* const> near) {
  const D d;
  const V zero = hn::Zero(d);
  const V one = hn::Set(d, 1.0f);
  const V kappa2 = hn::Set(d, c.options.kappa * c.options.kappa * kLimitShare);
  const V near2 = hn::Mul(kappa2, hn::Set(d, c.options.near_share * c.options.near_share));
  QuietSums s{zero, zero, zero, zero, zero, zero, hn::Set(d, std::numeric_limits<float>::lowest())};
  for (std::size_t j = 0; j < c.inputs.size(); ++j) {
    const CombineInput& in = c.inputs[j];
    hwy::Prefetch(in.values + c.ahead);
    hwy::Prefetch(in.variance + c.ahead);
    if (in.fade != nullptr) hwy::Prefetch(in.fade + c.ahead);
    const V y = hn::LoadU(d, in.values + c.x);
    const V bare = hn::LoadU(d, in.variance + c.x);
    const auto valid = hn::Not(hn::IsNaN(y));
    const V off = hn::IfThenElseZero(valid, hn::Sub(y, centre));
    const V limit2 = near.empty() ? kappa2 : hn::IfThenElse(load_hits(near[j], c.x), near2, kappa2);
    const V excess = hn::NegMulAdd(limit2, hn::Add(bare, c.slope2), hn::Mul(off, off));
    s.excess = hn::IfThenElse(valid, hn::Max(s.excess, excess), s.excess);
    V weight = hn::Set(d, in.weight);
    if (in.fade != nullptr) weight = hn::Mul(weight, hn::LoadU(d, in.fade + c.x));
    const V w = hn::IfThenElseZero(valid, weight);
    s.valid = hn::Add(s.valid, hn::IfThenElseZero(valid, one));
    s.weight = hn::Add(s.weight, w);
    s.value = hn::MulAdd(w, off, s.value);
    const V variance = hn::Mul(hn::Mul(w, w), bare);
    s.sky_variance = hn::Add(s.sky_variance, variance);
    s.signal_variance = hn::MulAdd(variance, hn::Set(d, in.signal_share), s.signal_variance);
    s.coverage = hn::Add(s.coverage, hn::IfThenElseZero(valid, hn::Set(d, c.coverage_of[j])));
  }
  return s;
}

struct Combined {
  V mean, variance, coverage, rejected;
};

HWY_INLINE V mean_or_nan(V weight, V value) {
  const D d;
  return hn::IfThenElse(hn::Gt(weight, hn::Zero(d)), value, hn::Set(d, std::numeric_limits<float>::quiet_NaN()));
}

// The rule in full, for the lanes that are `noisy`. `valid`: number of values in each.
HWY_NOINLINE Combined reject_twice(const Columns& c, hn::Mask<D> noisy, V centre, V valid,
                                   std::span<const HitWord* const> near, std::span<HitWord* const> hits) {
  const D d;
  const V zero = hn::Zero(d);
  V variance_sum = zero;
  for (const CombineInput& in : c.inputs) {
    const auto ok = hn::Not(hn::IsNaN(hn::LoadU(d, in.values + c.x)));
    variance_sum = hn::Add(variance_sum, hn::IfThenElseZero(ok, hn::LoadU(d, in.variance + c.x)));
  }
  const V n = hn::Max(valid, hn::Set(d, 1.0f));
  // Variance of a median of n: pi / 2 of that of the mean (asymptotically; 4 % less at n = 5).
  const V median_variance = hn::Mul(hn::Div(variance_sum, hn::Mul(n, n)), hn::Set(d, 1.5707963f));
  const Sums first = reject_and_sum(c, noisy, centre, median_variance, near, {});
  const auto any = hn::Gt(first.weight, zero);
  const V first_weight = hn::Max(first.weight, hn::Set(d, kLeastWeight));
  const V refined = hn::IfThenElse(any, hn::Add(centre, hn::Div(first.value, first_weight)), centre);
  const V refined_variance =
      hn::IfThenElse(any, hn::Div(first.sky_variance, hn::Mul(first_weight, first_weight)), median_variance);
  const Sums last = reject_and_sum(c, noisy, refined, refined_variance, near, hits);
  const V safe = hn::Max(last.weight, hn::Set(d, kLeastWeight));
  return {mean_or_nan(last.weight, hn::Add(refined, hn::Div(last.value, safe))),
          mean_or_nan(last.weight, hn::Div(last.variance, hn::Mul(safe, safe))), last.coverage, last.rejected};
}

// The columns x ... x + lanes; returns the number of values offered in each. In most of them nothing comes near the
// limit, which one pass can tell; it has their results as well. Each lane is judged by its own values alone: what comes
// out does not depend on which columns share a vector.
HWY_INLINE V combine_columns(const CombineRow& row, int x, std::span<const HitWord* const> near,
                             const CombineOutput& out) {
  const D d;
  const V zero = hn::Zero(d);
  const V s = hn::Mul(hn::LoadU(d, row.slope + x), hn::Set(d, row.options.slope_allowance));
  const Columns columns{
      row.inputs,   row.coverage_of, row.options, x, column_ahead(x, row.width), hn::LoadU(d, row.sky + x),
      hn::Mul(s, s)};
  const V centre = hn::LoadU(d, row.median + x);
  const QuietSums all = sum_all(columns, centre, near);
  const V safe = hn::Max(all.weight, hn::Set(d, kLeastWeight));
  const V mean = hn::Add(centre, hn::Div(all.value, safe));
  const V signal = hn::Max(hn::Sub(mean, columns.sky), zero);
  const V variance = hn::Div(hn::MulAdd(signal, all.signal_variance, all.sky_variance), hn::Mul(safe, safe));
  Combined result{mean_or_nan(all.weight, mean), mean_or_nan(all.weight, variance), all.coverage, zero};

  const V shift = hn::Sub(mean, centre);
  const V excess = hn::MulAdd(hn::Mul(shift, shift), hn::Set(d, kShiftFactor), all.excess);
  const auto noisy = hn::And(hn::Ge(all.valid, hn::Set(d, 3.0f)), hn::Not(hn::Le(excess, zero)));
  if (!hn::AllFalse(d, noisy)) {
    const Combined full = reject_twice(columns, noisy, centre, all.valid, near, out.hits);
    result.mean = hn::IfThenElse(noisy, full.mean, result.mean);
    result.variance = hn::IfThenElse(noisy, full.variance, result.variance);
    result.coverage = hn::IfThenElse(noisy, full.coverage, result.coverage);
    result.rejected = full.rejected;
  }
  hn::StoreU(result.mean, d, out.mean + x);
  hn::StoreU(result.variance, d, out.variance + x);
  hn::StoreU(result.coverage, d, out.coverage + x);
  hn::StoreU(result.rejected, d, out.rejected + x);
  return all.valid;
}

double sum_of_lanes(V v) {
  const D d;
  alignas(64) float lanes_of[kRowPadding];
  hn::Store(v, d, lanes_of);
  double sum = 0;
  for (std::size_t i = 0; i < hn::Lanes(d); ++i) sum += static_cast<double>(lanes_of[i]);
  return sum;
}

// Behind the end of the row nothing was measured.
void clear_beyond(const CombineOutput& out, int width) {
  if (width % kHitPixels == 0) return;
  for (HitWord* hits : out.hits)
    hits[width / kHitPixels] = static_cast<HitWord>(hits[width / kHitPixels] & ((1u << width % kHitPixels) - 1));
}

CombineCounts combine_vectors(const CombineRow& row, const CombineOutput& out) {
  const D d;
  const int lanes = static_cast<int>(hn::Lanes(d));
  for (HitWord* hits : out.hits) std::fill_n(hits, (row.width + kHitPixels - 1) / kHitPixels, HitWord{0});
  V offered = hn::Zero(d), rejected = hn::Zero(d);  // exact: a row holds less than 2^24 values in a lane
  for (int x = 0; x < row.width; x += lanes) {
    const auto inside = hn::FirstN(d, static_cast<std::size_t>(row.width - x));
    const V valid = combine_columns(row, x, {}, out);
    offered = hn::Add(offered, hn::IfThenElseZero(inside, valid));
    rejected = hn::Add(rejected, hn::IfThenElseZero(inside, hn::LoadU(d, out.rejected + x)));
  }
  clear_beyond(out, row.width);
  return {sum_of_lanes(offered), sum_of_lanes(rejected)};
}

double regrow_vectors(const CombineRow& row, std::span<const HitWord* const> near, const CombineOutput& out) {
  const D d;
  const int lanes = static_cast<int>(hn::Lanes(d));
  V more = hn::Zero(d);
  for (int group = 0; group * kHitPixels < row.width; ++group) {
    HitWord any = 0;
    for (const HitWord* bits : near) any = static_cast<HitWord>(any | bits[group]);
    if (any == 0) continue;
    for (HitWord* hits : out.hits) hits[group] = 0;
    for (int x = group * kHitPixels; x < std::min(row.width, (group + 1) * kHitPixels); x += lanes) {
      const auto inside = hn::FirstN(d, static_cast<std::size_t>(row.width - x));
      const V before = hn::LoadU(d, out.rejected + x);
      combine_columns(row, x, near, out);
      more = hn::Add(more, hn::IfThenElseZero(inside, hn::Sub(hn::LoadU(d, out.rejected + x), before)));
    }
  }
  clear_beyond(out, row.width);
  return sum_of_lanes(more);
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(combine_vectors);
HWY_EXPORT(regrow_vectors);

CombineCounts combine_rows(std::span<const CombineInput> inputs, std::span<const float> coverage_of,
                           const float* median, const float* sky, const float* slope, int width,
                           const CombineOptions& options, const CombineOutput& out) {
  return HWY_DYNAMIC_DISPATCH(combine_vectors)({inputs, coverage_of, median, sky, slope, width, options}, out);
}

bool near_hits(const HitWord* above, const HitWord* row, const HitWord* below, int words, HitWord* near) {
  const auto column = [&](int w) -> std::uint32_t {
    if (w < 0 || w >= words) return 0;
    return static_cast<std::uint32_t>((above != nullptr ? above[w] : 0) | row[w] | (below != nullptr ? below[w] : 0));
  };
  bool any = false;
  std::uint32_t left = 0, middle = column(0);
  for (int w = 0; w < words; ++w) {
    const std::uint32_t right = column(w + 1);
    near[w] =
        static_cast<HitWord>(middle | middle << 1 | middle >> 1 | left >> (kHitPixels - 1) | right << (kHitPixels - 1));
    any = any || near[w] != 0;
    left = middle;
    middle = right;
  }
  return any;
}

double regrow_rows(std::span<const CombineInput> inputs, std::span<const float> coverage_of, const float* median,
                   const float* sky, const float* slope, int width, const CombineOptions& options,
                   std::span<const HitWord* const> near, const CombineOutput& out) {
  return HWY_DYNAMIC_DISPATCH(regrow_vectors)({inputs, coverage_of, median, sky, slope, width, options}, near, out);
}

}  // namespace ng::math
#endif
