#include "math/sorted_rows.h"

#include <limits>
#include <type_traits>
#include <utility>
#include <vector>

#include "base/image.h"
#include "math/columns_ahead.h"
#include "math/sorting_network.h"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/sorted_rows.cpp"
#include <hwy/cache_control.h>
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

#ifndef NG_MATH_SORTED_ROWS_NETWORK
#define NG_MATH_SORTED_ROWS_NETWORK
namespace ng::math {

// So many values are sorted without leaving the registers.
inline constexpr int kInRegisters = 16;

struct SortRows {
  std::span<const float* const> rows;
  int width;
  const Network& network;
  float* scratch;
};

struct ClipLimits {
  float kappa, floor;
};

}  // namespace ng::math
#endif

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

using D = hn::CappedTag<float, kRowPadding>;
using V = hn::Vec<D>;

// The values of some columns, sorted upwards, NaN replaced by +infinity at the end, in memory.
struct Sorted {
  const float* values;  // one vector per row
  std::size_t rows;
  V valid;        // how many of each column are none of the NaN
  bool complete;  // no NaN in any

  HWY_INLINE V at(std::size_t j) const { return hn::Load(D(), values + j * hn::Lanes(D())); }
  // Order statistic number `place` (from 0, per lane).
  HWY_INLINE V pick(V place) const {
    const D d;
    if (complete) return at(static_cast<std::size_t>(hn::GetLane(place)));
    V result = at(0);
    for (std::size_t j = 1; j < rows; ++j)
      result = hn::IfThenElse(hn::Eq(place, hn::Set(d, static_cast<float>(j))), at(j), result);
    return result;
  }
};

HWY_INLINE Sorted load_sorted(std::span<const float* const> rows, int x, const Network& network, float* scratch) {
  const D d;
  const std::size_t lanes = hn::Lanes(d);
  const V infinity = hn::Set(d, std::numeric_limits<float>::infinity());
  V missing = hn::Zero(d);
  for (std::size_t j = 0; j < rows.size(); ++j) {
    const V v = hn::LoadU(d, rows[j] + x);
    const auto is_nan = hn::IsNaN(v);
    hn::Store(hn::IfThenElse(is_nan, infinity, v), d, scratch + j * lanes);
    missing = hn::Add(missing, hn::IfThenElseZero(is_nan, hn::Set(d, 1.0f)));
  }
  for (const auto& [low, high] : network) {
    float* a = scratch + low * lanes;
    float* b = scratch + high * lanes;
    const V va = hn::Load(d, a);
    const V vb = hn::Load(d, b);
    hn::Store(hn::Min(va, vb), d, a);
    hn::Store(hn::Max(va, vb), d, b);
  }
  const V all = hn::Set(d, static_cast<float>(rows.size()));
  return {scratch, rows.size(), hn::Sub(all, missing), hn::AllTrue(d, hn::Eq(missing, hn::Zero(d)))};
}

HWY_INLINE V median_of_sorted(const Sorted& sorted) {
  const D d;
  const V half = hn::Set(d, 0.5f);
  const V low = hn::Floor(hn::Mul(hn::Sub(sorted.valid, hn::Set(d, 1.0f)), half));
  const V high = hn::Floor(hn::Mul(sorted.valid, half));
  const V sum = hn::Add(sorted.pick(hn::Max(low, hn::Zero(d))), sorted.pick(high));
  const V median = hn::Mul(sum, half);
  return hn::IfThenElse(hn::Eq(sorted.valid, hn::Zero(d)), hn::Set(d, std::numeric_limits<float>::quiet_NaN()), median);
}

// Columns without a NaN, few enough for the registers; the compiler drops what the chosen order statistics do not need.
template <int N>
struct Few {
  V v[N];
  bool complete = false;

  HWY_INLINE Few(const SortRows& r, int x) {
    const D d;
    const std::span<const float* const> rows = r.rows;
    const int ahead = column_ahead(x, r.width);
    hwy::Prefetch(rows[0] + ahead);
    v[0] = hn::LoadU(d, rows[0] + x);
    auto nan = hn::IsNaN(v[0]);
    for (int j = 1; j < N; ++j) {
      hwy::Prefetch(rows[static_cast<std::size_t>(j)] + ahead);
      v[j] = hn::LoadU(d, rows[static_cast<std::size_t>(j)] + x);
      nan = hn::Or(nan, hn::IsNaN(v[j]));
    }
    complete = hn::AllFalse(d, nan);
  }
  HWY_INLINE void sort() { exchange(std::make_index_sequence<fixed_network<N>().size()>()); }
  HWY_INLINE V median() const { return hn::Mul(hn::Add(v[(N - 1) / 2], v[N / 2]), hn::Set(D(), 0.5f)); }

 private:
  template <std::size_t... K>
  HWY_INLINE void exchange(std::index_sequence<K...>) {
    [[maybe_unused]] constexpr auto kNetwork = fixed_network<N>();  // unused when N is 1
    (exchange(v[kNetwork[K].low], v[kNetwork[K].high]), ...);
  }
  static HWY_INLINE void exchange(V& a, V& b) {
    const V low = hn::Min(a, b);
    b = hn::Max(a, b);
    a = low;
  }
};

template <int N>
void median_of_few(const SortRows& r, float* out) {
  const D d;
  for (int x = 0; x < r.width; x += static_cast<int>(hn::Lanes(d))) {
    Few<N> few(r, x);
    if (few.complete) {
      few.sort();
      hn::StoreU(few.median(), d, out + x);
    } else {
      hn::StoreU(median_of_sorted(load_sorted(r.rows, x, r.network, r.scratch)), d, out + x);
    }
  }
}

void median_of_many(const SortRows& r, float* out) {
  const D d;
  for (int x = 0; x < r.width; x += static_cast<int>(hn::Lanes(d)))
    hn::StoreU(median_of_sorted(load_sorted(r.rows, x, r.network, r.scratch)), d, out + x);
}

// Mean of sorted values near their median: in sorted order the same sum whatever the order of the frames.
template <typename At>
HWY_INLINE V clipped_mean_of(const At& at, std::size_t n, V centre, V quartile_range, const ClipLimits& limits) {
  const D d;
  const V scatter = hn::Mul(quartile_range, hn::Set(d, 1 / 1.349f));
  const V limit = hn::Mul(hn::Max(scatter, hn::Set(d, limits.floor)), hn::Set(d, limits.kappa));
  V sum = hn::Zero(d);
  V count = hn::Zero(d);
  for (std::size_t j = 0; j < n; ++j) {
    const V off = hn::Sub(at(j), centre);
    const auto good = hn::Le(hn::Abs(off), limit);  // false for the infinities and for NaN centres
    sum = hn::Add(sum, hn::IfThenElseZero(good, off));
    count = hn::Add(count, hn::IfThenElseZero(good, hn::Set(d, 1.0f)));
  }
  return hn::Add(centre, hn::Div(sum, hn::Max(count, hn::Set(d, 1.0f))));
}

HWY_INLINE V clipped_mean_of_any(const SortRows& r, int x, const ClipLimits& limits) {
  const D d;
  const Sorted sorted = load_sorted(r.rows, x, r.network, r.scratch);
  const V last = hn::Sub(sorted.valid, hn::Set(d, 1.0f));
  const V quarter = hn::Floor(hn::MulAdd(last, hn::Set(d, 0.25f), hn::Set(d, 0.5f)));
  const V lower = sorted.pick(hn::Max(hn::Zero(d), quarter));
  const V upper = sorted.pick(hn::Max(hn::Zero(d), hn::Sub(last, quarter)));
  return clipped_mean_of([&](std::size_t j) HWY_ATTR { return sorted.at(j); }, sorted.rows, median_of_sorted(sorted),
                         hn::Sub(upper, lower), limits);
}

template <int N>
void clipped_mean_of_few(const SortRows& r, const ClipLimits& limits, float* mean) {
  const D d;
  constexpr int kQuarter = (N + 1) / 4;  // nearest to a quarter of the way from first to last
  for (int x = 0; x < r.width; x += static_cast<int>(hn::Lanes(d))) {
    Few<N> few(r, x);
    if (few.complete) {
      few.sort();
      const V range = hn::Sub(few.v[N - 1 - kQuarter], few.v[kQuarter]);
      hn::StoreU(clipped_mean_of([&](std::size_t j) HWY_ATTR { return few.v[j]; }, N, few.median(), range, limits), d,
                 mean + x);
    } else {
      hn::StoreU(clipped_mean_of_any(r, x, limits), d, mean + x);
    }
  }
}

void clipped_mean_of_many(const SortRows& r, const ClipLimits& limits, float* mean) {
  const D d;
  for (int x = 0; x < r.width; x += static_cast<int>(hn::Lanes(d)))
    hn::StoreU(clipped_mean_of_any(r, x, limits), d, mean + x);
}

// Calls few<N>() for as many rows as there are, or many().
template <int N = kInRegisters, typename FewRows, typename ManyRows>
HWY_INLINE void by_number(std::size_t rows, const FewRows& few, const ManyRows& many) {
  if constexpr (N == 0) {
    many();
  } else if (rows == N) {
    few(std::integral_constant<int, N>());
  } else {
    by_number<N - 1>(rows, few, many);
  }
}

void median_vectors(const SortRows& r, float* out) {
  by_number(
      r.rows.size(), [&](auto n) { median_of_few<n>(r, out); }, [&] { median_of_many(r, out); });
}

void clipped_mean_vectors(const SortRows& r, const ClipLimits& limits, float* mean) {
  by_number(
      r.rows.size(), [&](auto n) { clipped_mean_of_few<n>(r, limits, mean); },
      [&] { clipped_mean_of_many(r, limits, mean); });
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(median_vectors);
HWY_EXPORT(clipped_mean_vectors);

namespace {
// Room for one vector of every row, aligned.
Image<float> sorting_scratch(std::size_t rows) {
  return Image<float>(kRowPadding, static_cast<int>(rows));
}
}  // namespace

void median_rows(std::span<const float* const> rows, int width, float* out) {
  const Network network = sorting_network(static_cast<int>(rows.size()));
  Image<float> scratch = sorting_scratch(rows.size());
  HWY_DYNAMIC_DISPATCH(median_vectors)({rows, width, network, scratch.plane().data}, out);
}

void clipped_mean_rows(std::span<const float* const> rows, int width, float kappa, float floor, float* mean) {
  const Network network = sorting_network(static_cast<int>(rows.size()));
  Image<float> scratch = sorting_scratch(rows.size());
  HWY_DYNAMIC_DISPATCH(clipped_mean_vectors)({rows, width, network, scratch.plane().data}, {kappa, floor}, mean);
}

}  // namespace ng::math
#endif
