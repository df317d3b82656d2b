// math/resample_kernel-inl.h - the values of some neighbouring output pixels from 6 x 6 source pixels each. One copy
// for each kind of processor.
#if defined(NG_MATH_RESAMPLE_KERNEL_INL_H) == defined(HWY_TARGET_TOGGLE)
#ifdef NG_MATH_RESAMPLE_KERNEL_INL_H
#undef NG_MATH_RESAMPLE_KERNEL_INL_H
#else
#define NG_MATH_RESAMPLE_KERNEL_INL_H
#endif

#include <hwy/highway.h>

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <limits>

#include "math/lanczos.h"
#include "math/resample.h"
#include "math/resample_rows-inl.h"

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

constexpr int kTaps = LanczosPolynomials::kTaps;
constexpr int kTapsBefore = 2;  // the pixel that a place lies behind

// Source pixels under one tap. Each loader gives the value of tap `column` of kernel row `row` for all lanes.
struct Run {  // of neighbours in a row
  const float* corner;
  std::ptrdiff_t stride;
  HWY_INLINE V at(int row, int column) const { return hn::LoadU(D(), corner + row * stride + column); }
};
struct Scattered {
  const float* base;
  std::ptrdiff_t stride;
  hn::Vec<DI> offset;  // of the kernels' first pixels
  HWY_INLINE V at(int row, int column) const { return hn::GatherIndex(D(), base + row * stride + column, offset); }
};

struct Weights {
  V tap[kTaps];
  V squares;
};

HWY_INLINE void weights_at(V f, const LanczosPolynomials& polynomials, Weights& w) {
  const D d;
  const V g = hn::Sub(f, hn::Set(d, 0.5f));
  const V s = hn::Mul(g, g);
  w.squares = hn::Zero(d);
  for (std::size_t k = 0; k < LanczosPolynomials::kPairs; ++k) {
    const auto& e = polynomials.even[k];
    const auto& o = polynomials.odd[k];
    V even = hn::Set(d, e[LanczosPolynomials::kTerms - 1]);
    V odd = hn::Set(d, o[LanczosPolynomials::kTerms - 1]);
    for (std::size_t j = LanczosPolynomials::kTerms - 1; j-- > 0;) {
      even = hn::MulAdd(even, s, hn::Set(d, e[j]));
      odd = hn::MulAdd(odd, s, hn::Set(d, o[j]));
    }
    w.tap[k] = hn::MulAdd(g, odd, even);
    w.tap[kTaps - 1 - k] = hn::NegMulAdd(g, odd, even);
    w.squares = hn::MulAdd(w.tap[k], w.tap[k], w.squares);
    w.squares = hn::MulAdd(w.tap[kTaps - 1 - k], w.tap[kTaps - 1 - k], w.squares);
  }
}

// Weights along a stretch in which a place drifts by so little that a parabola through three of them follows each: by
// kMostDrift, which leaves 1.2e-7 (third derivatives of the kernel stay below 30).
class DriftingWeights {
 public:
  static constexpr double kMostDrift = 0.008;

  // The place f + m drift, for m = 0 ... pixels.
  HWY_INLINE DriftingWeights(double f, double drift, int pixels, const LanczosPolynomials& polynomials) {
    const D d;
    const double half = pixels / 2.0;
    Weights first, middle, last;
    weights_at(hn::Set(d, static_cast<float>(f)), polynomials, first);
    weights_at(hn::Set(d, static_cast<float>(f + half * drift)), polynomials, middle);
    weights_at(hn::Set(d, static_cast<float>(f + 2 * half * drift)), polynomials, last);
    const V step = hn::Set(d, static_cast<float>(1 / (2 * half))), two = hn::Set(d, 2.0f);
    for (int k = 0; k < kTaps; ++k) {
      // In u = m / pixels: w = first + u (b + u c).
      const V rise = hn::Sub(last.tap[k], first.tap[k]);
      const V bow = hn::Mul(two, hn::Sub(hn::Add(first.tap[k], last.tap[k]), hn::Mul(two, middle.tap[k])));
      a_[k] = first.tap[k];
      b_[k] = hn::Mul(hn::Sub(rise, bow), step);
      c_[k] = hn::Mul(hn::Mul(bow, step), step);
    }
  }
  HWY_INLINE V tap(int k, V m) const { return hn::MulAdd(hn::MulAdd(c_[k], m, b_[k]), m, a_[k]); }

 private:
  V a_[kTaps], b_[kTaps], c_[kTaps];
};

// Value held inside the range of the inner 4 x 4 pixels, widened as the options say.
template <typename Loader>
HWY_INLINE V clamp_overshoot(V value, const Loader& source, const ResampleOptions& options) {
  const D d;
  V low = source.at(1, 1);
  V high = low;
  for (int row = 1; row < 5; ++row) {
    for (int column = 1; column < 5; ++column) {
      const V v = source.at(row, column);
      low = hn::Min(low, v);
      high = hn::Max(high, v);
    }
  }
  const V guard = hn::Set(d, options.guard);
  const V rise = hn::MulAdd(hn::Set(d, options.overshoot), hn::Sub(high, low), guard);
  return hn::Min(hn::Max(value, hn::Sub(low, guard)), hn::Add(high, rise));
}

// The value as it is where the nearest pixel is about the same, else held.
template <typename Loader>
HWY_INLINE V held(V value, const Loader& source, V fx, V fy, const ResampleOptions& options) {
  const D d;
  const V half = hn::Set(d, 0.5f);
  const auto right = hn::Gt(fx, half);
  const V nearest = hn::IfThenElse(hn::Gt(fy, half), hn::IfThenElse(right, source.at(3, 3), source.at(3, 2)),
                                   hn::IfThenElse(right, source.at(2, 3), source.at(2, 2)));
  const auto far = hn::Gt(hn::Abs(hn::Sub(value, nearest)), hn::Set(d, options.guard));
  if (hn::AllFalse(d, far)) return value;
  return hn::IfThenElse(far, clamp_overshoot(value, source, options), value);
}

template <typename Loader>
HWY_INLINE V interpolate(const Loader& source, V fx, V fy, const Weights& wx, const Weights& wy,
                         const ResampleOptions& options) {
  const D d;
  V value = hn::Zero(d);
  for (int row = 0; row < kTaps; ++row) {
    V line = hn::Mul(wx.tap[0], source.at(row, 0));
    for (int column = 1; column < kTaps; ++column) line = hn::MulAdd(wx.tap[column], source.at(row, column), line);
    value = hn::MulAdd(wy.tap[row], line, value);
  }
  return held(value, source, fx, fy, options);
}

// Is a pixel bad among the nearest four of any lane of a run?
HWY_INLINE bool run_meets_bad(const SourceBand& source, int first_x, int y, int lanes) {
  if (source.bad.empty()) return false;
  const std::uint8_t* upper = source.bad.row(y) + first_x;
  const std::uint8_t* lower = source.bad.row(y + 1) + first_x;
  std::uint64_t bad = static_cast<std::uint64_t>(upper[lanes]) | lower[lanes];
  for (int i = 0; i < lanes; i += 4) {
    std::uint32_t a = 0, b = 0;
    std::memcpy(&a, upper + i, sizeof a);
    std::memcpy(&b, lower + i, sizeof b);
    bad |= a | b;
  }
  return bad != 0;
}

// Lanes outside the band, or beside a bad pixel, have no value.
void blank(const SourceBand& source, const Places& places, float* out, float* squares) {
  const D d;
  const DI di;
  alignas(64) std::array<std::int32_t, kMaxLanes> ix, iy;
  alignas(64) std::array<float, kMaxLanes> inside;
  hn::Store(places.ix, di, ix.data());
  hn::Store(places.iy, di, iy.data());
  hn::Store(places.inside, d, inside.data());
  for (std::size_t k = 0; k < hn::Lanes(d); ++k) {
    bool bad = inside[k] == 0;
    if (!bad && !source.bad.empty()) {
      const std::uint8_t* upper = source.bad.row(iy[k]) + ix[k];
      const std::uint8_t* lower = source.bad.row(iy[k] + 1) + ix[k];
      bad = (upper[0] | upper[1] | lower[0] | lower[1]) != 0;
    }
    if (!bad) continue;
    out[k] = std::numeric_limits<float>::quiet_NaN();
    squares[k] = 0;
  }
}

// The same for a run of places behind the pixels first_x, first_x + 1 ... of row y, whose last comes first if
// `reversed`.
inline void blank_run(const SourceBand& source, int first_x, int y, bool reversed, float* out, float* squares) {
  const int lanes = static_cast<int>(hn::Lanes(D()));
  const std::uint8_t* upper = source.bad.row(y) + first_x;
  const std::uint8_t* lower = source.bad.row(y + 1) + first_x;
  for (int k = 0; k < lanes; ++k) {
    if ((upper[k] | upper[k + 1] | lower[k] | lower[k + 1]) == 0) continue;
    const int at = reversed ? lanes - 1 - k : k;
    out[at] = std::numeric_limits<float>::quiet_NaN();
    squares[at] = 0;
  }
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#endif  // NG_MATH_RESAMPLE_KERNEL_INL_H
