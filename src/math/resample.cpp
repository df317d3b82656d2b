#include "math/resample.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/resample.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

constexpr int kMaxLanes = 16;
constexpr int kTaps = LanczosPolynomials::kTaps;
using D = hn::CappedTag<float, kMaxLanes>;
using DI = hn::RebindToSigned<D>;
using V = hn::Vec<D>;

// Where some neighbouring output pixels lie in the band: whole pixels and what is left, 0 <= f < 1.
struct Places {
  alignas(64) std::array<std::int32_t, kMaxLanes> ix, iy;
  alignas(64) std::array<float, kMaxLanes> fx, fy;
  alignas(64) std::array<float, kMaxLanes> inside;  // 1 where the whole kernel lies in the band, else 0
  bool all_inside;
};

// In double: a float cannot hold a thousandth of a pixel at the far side of a large sensor.
HWY_INLINE void find_places(const SourceBand& source, const Homography& map, int x0, int out_y, int lanes,
                            Places& places) {
  using DW = hn::CappedTag<double, kMaxLanes>;
  using W = hn::Vec<DW>;
  const DW d;
  const hn::Rebind<float, DW> to_float;
  const hn::Rebind<std::int32_t, DW> to_int;
  const std::array<double, 8>& m = map.coefficients();
  const double y = out_y;
  const W x_part = hn::Set(d, m[1] * y + m[2]), y_part = hn::Set(d, m[4] * y + m[5]);
  const W w_part = hn::Set(d, m[7] * y + 1);
  const W m0 = hn::Set(d, m[0]), m3 = hn::Set(d, m[3]), m6 = hn::Set(d, m[6]), top = hn::Set(d, source.y0);
  const W first = hn::Set(d, 2), last_x = hn::Set(d, source.pixels.width - 4);
  const W last_y = hn::Set(d, source.pixels.height - 4);
  places.all_inside = true;
  const int step = static_cast<int>(hn::Lanes(d));
  for (int i = 0; i < lanes; i += step) {
    const W x = hn::Iota(d, x0 + i);
    const W w = hn::Div(hn::Set(d, 1.0), hn::MulAdd(m6, x, w_part));
    const W sx = hn::Mul(hn::MulAdd(m0, x, x_part), w);
    const W sy = hn::Sub(hn::Mul(hn::MulAdd(m3, x, y_part), w), top);
    const W px = hn::Floor(sx), py = hn::Floor(sy);
    // False for NaN.
    const auto inside = hn::And(hn::And(hn::Ge(px, first), hn::Le(px, last_x)),
                                hn::And(hn::Ge(py, first), hn::Le(py, last_y)));
    places.all_inside = places.all_inside && hn::AllTrue(d, inside);
    // Outside any pixel will do: what comes of it is thrown away.
    hn::Store(hn::DemoteTo(to_int, hn::IfThenElse(inside, px, first)), to_int, places.ix.data() + i);
    hn::Store(hn::DemoteTo(to_int, hn::IfThenElse(inside, py, first)), to_int, places.iy.data() + i);
    hn::Store(hn::DemoteTo(to_float, hn::IfThenElseZero(inside, hn::Sub(sx, px))), to_float, places.fx.data() + i);
    hn::Store(hn::DemoteTo(to_float, hn::IfThenElseZero(inside, hn::Sub(sy, py))), to_float, places.fy.data() + i);
    hn::Store(hn::DemoteTo(to_float, hn::IfThenElseZero(inside, hn::Set(d, 1.0))), to_float, places.inside.data() + i);
  }
}

// Source pixels under one tap. Each loader gives the value of tap `column` of kernel row `row` for all lanes.
struct Forward {  // one run of source pixels, left to right
  const float* corner;
  std::ptrdiff_t stride;
  HWY_INLINE V at(int row, int column) const { return hn::LoadU(D(), corner + row * stride + column); }
};
struct Backward {  // the same right to left: the camera has been turned round
  const float* corner;
  std::ptrdiff_t stride;
  HWY_INLINE V at(int row, int column) const {
    return hn::Reverse(D(), hn::LoadU(D(), corner + row * stride + column));
  }
};
struct Scattered {
  const float* base;
  std::ptrdiff_t stride;
  hn::Vec<DI> offset;  // of the kernels' first pixels
  HWY_INLINE V at(int row, int column) const {
    return hn::GatherIndex(D(), base + row * stride + column, offset);
  }
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
  const V half = hn::Set(d, 0.5f);
  const auto right = hn::Gt(fx, half);
  const V nearest = hn::IfThenElse(hn::Gt(fy, half), hn::IfThenElse(right, source.at(3, 3), source.at(3, 2)),
                                   hn::IfThenElse(right, source.at(2, 3), source.at(2, 2)));
  const auto far = hn::Gt(hn::Abs(hn::Sub(value, nearest)), hn::Set(d, options.guard));
  if (hn::AllFalse(d, far)) return value;
  return hn::IfThenElse(far, clamp_overshoot(value, source, options), value);
}

// Step from one lane's source pixel to the next, when they form one run of a row: 1 or -1; else 0.
HWY_INLINE int run_of(const Places& places) {
  const DI di;
  if (!places.all_inside) return 0;
  const auto ix = hn::Load(di, places.ix.data());
  const auto iy = hn::Load(di, places.iy.data());
  if (!hn::AllTrue(di, hn::Eq(iy, hn::Set(di, places.iy[0])))) return 0;
  const auto first = hn::Set(di, places.ix[0]);
  if (hn::AllTrue(di, hn::Eq(ix, hn::Add(first, hn::Iota(di, 0))))) return 1;
  if (hn::AllTrue(di, hn::Eq(ix, hn::Sub(first, hn::Iota(di, 0))))) return -1;
  return 0;
}

// Is a pixel bad among the nearest four of any lane of a run?
HWY_INLINE bool run_meets_bad(const SourceBand& source, int first_x, int y, int lanes) {
  if (source.bad.empty()) return false;
  const std::uint8_t* upper = source.bad.row(y) + first_x;
  const std::uint8_t* lower = source.bad.row(y + 1) + first_x;
  unsigned bad = 0;
  for (int i = 0; i <= lanes; ++i) bad |= static_cast<unsigned>(upper[i]) | lower[i];
  return bad != 0;
}

HWY_INLINE bool is_bad(const SourceBand& source, int ix, int iy) {
  if (source.bad.empty()) return false;
  const std::uint8_t* upper = source.bad.row(iy) + ix;
  const std::uint8_t* lower = source.bad.row(iy + 1) + ix;
  return (upper[0] | upper[1] | lower[0] | lower[1]) != 0;
}

void resample_row(const SourceBand& source, const Homography& map, int out_y, float* out, float* squares, int width,
                  const ResampleOptions& options, const LanczosPolynomials& polynomials) {
  const D d;
  const DI di;
  const int lanes = static_cast<int>(hn::Lanes(d));
  const View<const float>& src = source.pixels;
  const V scale = hn::Set(d, options.flux_scale);
  const V scale2 = hn::Set(d, options.flux_scale * options.flux_scale);
  Places places;
  for (int x = 0; x < width; x += lanes) {
    find_places(source, map, x, out_y, lanes, places);
    const V fx = hn::Load(d, places.fx.data());
    const V fy = hn::Load(d, places.fy.data());
    Weights wx, wy;
    weights_at(fx, polynomials, wx);
    weights_at(fy, polynomials, wy);
    const int run = run_of(places);
    const int first_x = run < 0 ? places.ix[0] - (lanes - 1) : places.ix[0];
    const float* corner = src.row(places.iy[0] - 2) + first_x - 2;
    V value;
    if (run > 0) {
      value = interpolate(Forward{corner, src.stride}, fx, fy, wx, wy, options);
    } else if (run < 0) {
      value = interpolate(Backward{corner, src.stride}, fx, fy, wx, wy, options);
    } else {
      const auto rows = hn::Mul(hn::Load(di, places.iy.data()), hn::Set(di, static_cast<std::int32_t>(src.stride)));
      const auto offset = hn::Add(rows, hn::Load(di, places.ix.data()));
      value = interpolate(Scattered{src.data - 2 * src.stride - 2, src.stride, offset}, fx, fy, wx, wy, options);
    }
    hn::StoreU(hn::Mul(value, scale), d, out + x);
    hn::StoreU(hn::Mul(hn::Mul(wx.squares, wy.squares), scale2), d, squares + x);

    if (run != 0 && !run_meets_bad(source, first_x, places.iy[0], lanes)) continue;
    for (int i = 0; i < lanes; ++i) {
      const auto k = static_cast<std::size_t>(i);
      if (places.inside[k] != 0 && !is_bad(source, places.ix[k], places.iy[k])) continue;
      out[x + i] = std::numeric_limits<float>::quiet_NaN();
      squares[x + i] = 0;
    }
  }
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(resample_row);

void resample_rows(const SourceBand& source, const Homography& output_to_source, int out_y0, View<float> out,
                   View<float> kernel_squares, const ResampleOptions& options, const LanczosPolynomials& polynomials) {
  constexpr int kTaps = LanczosPolynomials::kTaps;
  if (source.pixels.width < kTaps || source.pixels.height < kTaps) {
    for (int y = 0; y < out.height; ++y) {
      std::fill_n(out.row(y), out.width, std::numeric_limits<float>::quiet_NaN());
      std::fill_n(kernel_squares.row(y), out.width, 0.0f);
    }
    return;
  }
  for (int y = 0; y < out.height; ++y) {
    HWY_DYNAMIC_DISPATCH(resample_row)
    (source, output_to_source, out_y0 + y, out.row(y), kernel_squares.row(y), out.width, options, polynomials);
  }
}

RowRange source_rows_needed(const Homography& output_to_source, int out_y0, int out_rows, int out_width,
                            int source_width, int source_height) {
  // A straight edge stays straight: the four corners bound the rows, as long as the horizon is not crossed, which no
  // picture of a few degrees comes near.
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for (const double x : {0.0, out_width - 1.0}) {
    for (const double y : {static_cast<double>(out_y0), out_y0 + out_rows - 1.0}) {
      const Point s = output_to_source.apply({x, y});
      low = std::min(low, s.y);
      high = std::max(high, s.y);
    }
  }
  if (!(low <= high) || source_width < LanczosPolynomials::kTaps) return {};
  const double first = std::max(0.0, std::floor(low) - 2);
  const double last = std::min(source_height - 1.0, std::floor(high) + 3);
  if (last < first) return {};
  return {static_cast<int>(first), static_cast<int>(last - first) + 1};
}

}  // namespace ng::math
#endif
