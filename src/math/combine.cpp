#include "math/combine.h"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/combine.cpp"
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

// Everything that a pass over the columns x ... x + lanes needs to know.
struct Columns {
  std::span<const CombineInput> inputs;
  std::span<const float> coverage_of;
  const CombineOptions& options;
  int x;
  V sky, slope2, may_reject;
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

// One pass of rejection around `centre`, whose own variance is `centre_variance`. `near`: rows of hits that lower the
// limit, or empty; `hits`: rows to mark, or empty.
HWY_INLINE Sums reject_and_sum(const Columns& c, V centre, V centre_variance, std::span<const HitWord* const> near,
                               std::span<HitWord* const> hits) {
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
    const auto wild = hn::And(valid, hn::And(hn::Gt(hn::Mul(off, off), allowed), hn::Gt(c.may_reject, zero)));
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

// The columns x ... x + lanes; returns the number of values offered in each.
HWY_INLINE V combine_columns(const CombineRow& row, int x, std::span<const HitWord* const> near,
                             const CombineOutput& out) {
  const D d;
  const V zero = hn::Zero(d);
  const V one = hn::Set(d, 1.0f);
  V valid = zero;
  V variance_sum = zero;
  for (const CombineInput& in : row.inputs) {
    const auto ok = hn::Not(hn::IsNaN(hn::LoadU(d, in.values + x)));
    valid = hn::Add(valid, hn::IfThenElseZero(ok, one));
    variance_sum = hn::Add(variance_sum, hn::IfThenElseZero(ok, hn::LoadU(d, in.variance + x)));
  }
  const V n = hn::Max(valid, one);
  const V s = hn::Mul(hn::LoadU(d, row.slope + x), hn::Set(d, row.options.slope_allowance));
  const Columns columns{row.inputs,
                        row.coverage_of,
                        row.options,
                        x,
                        hn::LoadU(d, row.sky + x),
                        hn::Mul(s, s),
                        hn::IfThenElseZero(hn::Ge(valid, hn::Set(d, 3.0f)), one)};
  const V centre = hn::LoadU(d, row.median + x);
  // Variance of a median of n: pi / 2 of that of the mean (asymptotically; 4 % less at n = 5).
  const V median_variance = hn::Mul(hn::Div(variance_sum, hn::Mul(n, n)), hn::Set(d, 1.5707963f));
  const Sums first = reject_and_sum(columns, centre, median_variance, near, {});
  const auto any = hn::Gt(first.weight, zero);
  const V first_weight = hn::Max(first.weight, hn::Set(d, 1e-30f));
  const V refined = hn::IfThenElse(any, hn::Add(centre, hn::Div(first.value, first_weight)), centre);
  const V refined_variance = hn::Div(first.sky_variance, hn::Mul(first_weight, first_weight));
  const Sums last = reject_and_sum(columns, refined, refined_variance, near, out.hits);

  const auto have = hn::Gt(last.weight, zero);
  const V nan = hn::Set(d, std::numeric_limits<float>::quiet_NaN());
  const V safe = hn::Max(last.weight, hn::Set(d, 1e-30f));
  hn::StoreU(hn::IfThenElse(have, hn::Add(refined, hn::Div(last.value, safe)), nan), d, out.mean + x);
  hn::StoreU(hn::IfThenElse(have, hn::Div(last.variance, hn::Mul(safe, safe)), nan), d, out.variance + x);
  hn::StoreU(last.coverage, d, out.coverage + x);
  hn::StoreU(last.rejected, d, out.rejected + x);
  return valid;
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
