#include "reduce/single/calibrate.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <vector>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "reduce/single/calibrate.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

#ifndef NG_REDUCE_CALIBRATE_ROW
#define NG_REDUCE_CALIBRATE_ROW
namespace ng::reduce {

// A row of each; null where there is none.
struct CalibrationRow {
  const float* zero;
  float zero_level;
  const float* gain;
  const std::uint8_t* defects;
  float electrons_per_adu;
};

}  // namespace ng::reduce
#endif

HWY_BEFORE_NAMESPACE();
namespace ng::reduce::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

// In place, lanes at a time; the rest of the row in lanes of one.
template <typename D>
HWY_INLINE void calibrate_from(D d, const CalibrationRow& c, int x, float* row, std::uint8_t* bad) {
  const hn::RebindToSigned<D> di;
  const hn::Rebind<std::uint8_t, D> bytes;
  const auto zero = c.zero != nullptr ? hn::LoadU(d, c.zero + x) : hn::Set(d, c.zero_level);
  auto v = hn::Mul(hn::Sub(hn::LoadU(d, row + x), zero), hn::Set(d, c.electrons_per_adu));
  if (c.gain != nullptr) v = hn::Mul(v, hn::LoadU(d, c.gain + x));
  hn::StoreU(v, d, row + x);
  if (bad == nullptr) return;
  const auto finite = hn::RebindMask(di, hn::IsFinite(v));
  auto marked = hn::DemoteTo(bytes, hn::IfThenZeroElse(finite, hn::Set(di, 1)));
  if (c.defects != nullptr) marked = hn::Or(marked, hn::Min(hn::LoadU(bytes, c.defects + x), hn::Set(bytes, 1)));
  hn::StoreU(marked, bytes, bad + x);
}

void calibrate_row(const CalibrationRow& c, int width, float* row, std::uint8_t* bad) {
  const hn::CappedTag<float, 16> d;
  const int lanes = static_cast<int>(hn::Lanes(d));
  int x = 0;
  for (; x + lanes <= width; x += lanes) calibrate_from(d, c, x, row, bad);
  for (; x < width; ++x) calibrate_from(hn::CappedTag<float, 1>(), c, x, row, bad);
}

}  // namespace ng::reduce::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::reduce {

HWY_EXPORT(calibrate_row);

void calibrate_rows(const Calibration& c, int y0, View<float> rows, View<std::uint8_t> bad) {
  assert(bad.empty() || (bad.width == rows.width && bad.height == rows.height));
  for (int y = 0; y < rows.height; ++y) {
    const CalibrationRow row{c.zero.empty() ? nullptr : c.zero.row(y0 + y), c.zero_level,
                             c.flat_gain.empty() ? nullptr : c.flat_gain.row(y0 + y),
                             c.defects.empty() ? nullptr : c.defects.row(y0 + y), c.electrons_per_adu};
    HWY_DYNAMIC_DISPATCH(calibrate_row)(row, rows.width, rows.row(y), bad.empty() ? nullptr : bad.row(y));
  }
}

}  // namespace ng::reduce
#endif
