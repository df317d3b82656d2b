#include "math/resample.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <limits>
#include <vector>

#include "math/row_places.h"

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
  hn::Vec<DI> ix, iy;
  V fx, fy;
  V inside;  // 1 where the whole kernel lies in the band, else 0
  bool all_inside;
};

using DW = hn::RepartitionToWide<D>;
using W = hn::Vec<DW>;

// One coordinate of the places of half of the lanes.
struct Coordinate {
  W whole, rest;
};

// Where a row of output pixels lies in the source: by the homography itself, or along the nodes of a bent map. In
// double: a float cannot hold a thousandth of a pixel at the far side of a large sensor.
class FlatRow {
 public:
  HWY_INLINE FlatRow(const Homography& map, int out_y)
      : m_(map.coefficients()),
        x_part_(m_[1] * out_y + m_[2]),
        y_part_(m_[4] * out_y + m_[5]),
        w_part_(m_[7] * out_y + 1) {}
  // Of the output pixels x0, x0 + 1, ...
  HWY_INLINE void at(int x0, W& sx, W& sy) const {
    const DW dw;
    const W at = hn::Iota(dw, x0);
    const W w = hn::Div(hn::Set(dw, 1.0), hn::MulAdd(hn::Set(dw, m_[6]), at, hn::Set(dw, w_part_)));
    sx = hn::Mul(hn::MulAdd(hn::Set(dw, m_[0]), at, hn::Set(dw, x_part_)), w);
    sy = hn::Mul(hn::MulAdd(hn::Set(dw, m_[3]), at, hn::Set(dw, y_part_)), w);
  }

 private:
  const std::array<double, 8>& m_;
  double x_part_, y_part_, w_part_;
};

// Output pixels in a row whose source pixels are neighbours in a row as well, from left to right or (`backwards`) from
// right to left: what is left of their places beside whole pixels drifts slowly.
struct Stretch {
  int pixels = 0;
  int ix = 0, iy = 0;  // source pixel of the first
  float fx = 0, fy = 0, drift_x = 0, drift_y = 0;
};

// Without perspective no quotient is needed.
class AffineRow {
 public:
  HWY_INLINE AffineRow(const Homography& map, int out_y)
      : m_(map.coefficients()), x_part_(m_[1] * out_y + m_[2]), y_part_(m_[4] * out_y + m_[5]) {}
  [[nodiscard]] bool backwards() const { return m_[0] < 0; }
  // From x0 on, as far as the whole kernel lies in the band.
  [[nodiscard]] Stretch stretch_from(int x0, const SourceBand& source) const {
    const double step = backwards() ? -1 : 1;
    const double sx = m_[0] * x0 + x_part_, sy = m_[3] * x0 + y_part_ - source.y0;
    const double px = std::floor(sx), py = std::floor(sy);
    const double last_x = source.pixels.width - 4, last_y = source.pixels.height - 4;
    if (!(px >= 2 && px <= last_x && py >= 2 && py <= last_y)) return {};
    const auto until_whole = [](double rest, double drift) {  // pixels for which 0 <= rest + drift k <= 1
      if (drift == 0) return std::numeric_limits<double>::infinity();
      return 1 + std::floor(drift > 0 ? (1 - rest) / drift : rest / -drift);
    };
    const double drift_x = m_[0] - step, drift_y = m_[3];
    const double room = 1 + (step > 0 ? last_x - px : px - 2);
    const double most = 1 << 20;
    const double pixels = std::min({until_whole(sx - px, drift_x), until_whole(sy - py, drift_y), room, most});
    return {static_cast<int>(pixels),    static_cast<int>(px),        static_cast<int>(py),
            static_cast<float>(sx - px), static_cast<float>(sy - py), static_cast<float>(drift_x),
            static_cast<float>(drift_y)};
  }
  HWY_INLINE void at(int x0, W& sx, W& sy) const {
    const DW dw;
    const W at = hn::Iota(dw, x0);
    sx = hn::MulAdd(hn::Set(dw, m_[0]), at, hn::Set(dw, x_part_));
    sy = hn::MulAdd(hn::Set(dw, m_[3]), at, hn::Set(dw, y_part_));
  }

 private:
  const std::array<double, 8>& m_;
  double x_part_, y_part_;
};

class BentRow {
 public:
  HWY_INLINE explicit BentRow(const RowPlaces& places) : places_(places) {}
  HWY_INLINE void at(int x0, W& sx, W& sy) const {
    const DW dw;
    static_assert(hn::MaxLanes(DW()) <= RowPlaces::kStep);  // so many pixels never reach over a node
    const auto k = static_cast<std::size_t>(x0 / RowPlaces::kStep);
    const W f = hn::Mul(hn::Iota(dw, x0 % RowPlaces::kStep), hn::Set(dw, 1.0 / RowPlaces::kStep));
    const auto between = [&](const std::vector<double>& nodes) {
      return hn::MulAdd(f, hn::Set(dw, nodes[k + 1] - nodes[k]), hn::Set(dw, nodes[k]));
    };
    sx = between(places_.x());
    sy = between(places_.y());
  }

 private:
  const RowPlaces& places_;
};

class PlaceFinder {
 public:
  HWY_INLINE explicit PlaceFinder(const SourceBand& source)
      : top_(source.y0), last_x_(source.pixels.width - 4), last_y_(source.pixels.height - 4) {}

  template <typename Row>
  HWY_INLINE Places at(const Row& row, int x0) const {
    const D d;
    const DW dw;
    const hn::Rebind<float, DW> to_float;
    const hn::Rebind<std::int32_t, DW> to_int;
    const DI di;
    Coordinate x[2], y[2];
    W inside[2];
    Places places;
    places.all_inside = true;
    for (int half = 0; half < 2; ++half) {
      W sx, sy;
      row.at(x0 + half * static_cast<int>(hn::Lanes(dw)), sx, sy);
      sy = hn::Sub(sy, hn::Set(dw, top_));
      const W px = hn::Floor(sx), py = hn::Floor(sy);
      const W first = hn::Set(dw, 2.0);
      // False for NaN.
      const auto in = hn::And(hn::And(hn::Ge(px, first), hn::Le(px, hn::Set(dw, last_x_))),
                              hn::And(hn::Ge(py, first), hn::Le(py, hn::Set(dw, last_y_))));
      places.all_inside = places.all_inside && hn::AllTrue(dw, in);
      // Outside any pixel will do: what comes of it is thrown away.
      x[half] = {hn::IfThenElse(in, px, first), hn::IfThenElseZero(in, hn::Sub(sx, px))};
      y[half] = {hn::IfThenElse(in, py, first), hn::IfThenElseZero(in, hn::Sub(sy, py))};
      inside[half] = hn::IfThenElseZero(in, hn::Set(dw, 1.0));
    }
    // Put together in registers: halves that are stored and read back as a whole stall the processor.
    const auto whole = [&](const Coordinate* c) {
      return hn::Combine(di, hn::DemoteTo(to_int, c[1].whole), hn::DemoteTo(to_int, c[0].whole));
    };
    const auto rest = [&](const Coordinate* c) {
      return hn::Combine(d, hn::DemoteTo(to_float, c[1].rest), hn::DemoteTo(to_float, c[0].rest));
    };
    places.ix = whole(x);
    places.iy = whole(y);
    places.fx = rest(x);
    places.fy = rest(y);
    places.inside = hn::Combine(d, hn::DemoteTo(to_float, inside[1]), hn::DemoteTo(to_float, inside[0]));
    return places;
  }

 private:
  double top_, last_x_, last_y_;
};

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
HWY_INLINE int run_of(const Places& places, std::int32_t x0, std::int32_t y0) {
  const DI di;
  if (!places.all_inside || !hn::AllTrue(di, hn::Eq(places.iy, hn::Set(di, y0)))) return 0;
  const auto off = hn::Sub(places.ix, hn::Set(di, x0));
  if (hn::AllTrue(di, hn::Eq(off, hn::Iota(di, 0)))) return 1;
  if (hn::AllTrue(di, hn::Eq(hn::Neg(off), hn::Iota(di, 0)))) return -1;
  return 0;
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

// What every row of a band shares.
struct Resampler {
  const SourceBand& source;
  const ResampleOptions& options;
  const LanczosPolynomials& polynomials;
  PlaceFinder finder;
  V scale;

  HWY_INLINE Resampler(const SourceBand& band, const ResampleOptions& how, const LanczosPolynomials& kernel)
      : source(band), options(how), polynomials(kernel), finder(band), scale(hn::Set(D(), how.flux_scale)) {}

  // Lanes of one vector of output pixels, wherever each lies.
  template <typename Row>
  HWY_INLINE void vector_at(const Row& row, int x, float* out, float* squares) const {
    const D d;
    const DI di;
    const int lanes = static_cast<int>(hn::Lanes(d));
    const View<const float>& src = source.pixels;
    const auto stride = static_cast<std::int32_t>(src.stride);
    const Places places = finder.at(row, x);
    const std::int32_t x0 = hn::GetLane(places.ix);
    const std::int32_t y0 = hn::GetLane(places.iy);
    const int run = run_of(places, x0, y0);
    // A picture that has been turned round runs right to left: its lanes are taken in the order of the source.
    const V fx = run < 0 ? hn::Reverse(d, places.fx) : places.fx;
    const V fy = run < 0 ? hn::Reverse(d, places.fy) : places.fy;
    const int first_x = run < 0 ? x0 - (lanes - 1) : x0;
    Weights wx, wy;
    weights_at(fx, polynomials, wx);
    weights_at(fy, polynomials, wy);
    V value;
    if (run != 0) {
      value = interpolate(Run{src.row(y0 - 2) + first_x - 2, src.stride}, fx, fy, wx, wy, options);
    } else {
      const auto offset = hn::Add(hn::Mul(places.iy, hn::Set(di, stride)), places.ix);
      value = interpolate(Scattered{src.data - 2 * src.stride - 2, src.stride, offset}, fx, fy, wx, wy, options);
    }
    store(value, hn::Mul(wx.squares, wy.squares), run < 0, out + x, squares + x);
    if (run == 0 || run_meets_bad(source, first_x, y0, lanes)) blank(source, places, out + x, squares + x);
  }

  // The first `pixels` (whole vectors) of a stretch that begins at output pixel x.
  HWY_INLINE void along(const AffineRow& row, const Stretch& stretch, int x, int pixels, float* out,
                        float* squares) const {
    const D d;
    const int lanes = static_cast<int>(hn::Lanes(d));
    const bool backwards = row.backwards();
    const float* corner = source.pixels.row(stretch.iy - 2) - 2;
    const V order = hn::Iota(d, 0.0f);
    const V lane = backwards ? hn::Reverse(d, order) : order;
    for (int k = 0; k < pixels; k += lanes) {
      const V at = hn::Add(lane, hn::Set(d, static_cast<float>(k)));
      const V fx = hn::MulAdd(at, hn::Set(d, stretch.drift_x), hn::Set(d, stretch.fx));
      const V fy = hn::MulAdd(at, hn::Set(d, stretch.drift_y), hn::Set(d, stretch.fy));
      const int first_x = backwards ? stretch.ix - k - (lanes - 1) : stretch.ix + k;
      Weights wx, wy;
      weights_at(fx, polynomials, wx);
      weights_at(fy, polynomials, wy);
      const V value = interpolate(Run{corner + first_x, source.pixels.stride}, fx, fy, wx, wy, options);
      store(value, hn::Mul(wx.squares, wy.squares), backwards, out + x + k, squares + x + k);
      if (run_meets_bad(source, first_x, stretch.iy, lanes))
        blank(source, finder.at(row, x + k), out + x + k, squares + x + k);
    }
  }

 private:
  HWY_INLINE void store(V value, V kernel, bool reversed, float* out, float* squares) const {
    const D d;
    value = hn::Mul(value, scale);
    if (reversed) {
      value = hn::Reverse(d, value);
      kernel = hn::Reverse(d, kernel);
    }
    hn::StoreU(value, d, out);
    hn::StoreU(kernel, d, squares);
  }
};

template <typename Row>
HWY_INLINE void resample_along(const Resampler& resampler, const Row& row, float* out, float* squares, int width) {
  const int lanes = static_cast<int>(hn::Lanes(D()));
  for (int x = 0; x < width; x += lanes) resampler.vector_at(row, x, out, squares);
}

// Stretch by stretch; the vectors between them one by one.
HWY_INLINE void resample_along(const Resampler& resampler, const AffineRow& row, float* out, float* squares,
                               int width) {
  const int lanes = static_cast<int>(hn::Lanes(D()));
  for (int x = 0; x < width;) {
    const Stretch stretch = row.stretch_from(x, resampler.source);
    const int wanted = (width - x + lanes - 1) / lanes * lanes;
    const int pixels = std::min(stretch.pixels / lanes * lanes, wanted);
    if (pixels > 0) {
      resampler.along(row, stretch, x, pixels, out, squares);
      x += pixels;
    } else {
      resampler.vector_at(row, x, out, squares);
      x += lanes;
    }
  }
}

void resample_row(const SourceBand& source, const PlaneMap& map, int out_y, float* out, float* squares, int width,
                  const ResampleOptions& options, const LanczosPolynomials& polynomials) {
  const Resampler resampler(source, options, polynomials);
  if (map.bent()) {
    const RowPlaces places(map, out_y, width);
    resample_along(resampler, BentRow(places), out, squares, width);
  } else if (map.plane().is_affine()) {
    resample_along(resampler, AffineRow(map.plane(), out_y), out, squares, width);
  } else {
    resample_along(resampler, FlatRow(map.plane(), out_y), out, squares, width);
  }
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(resample_row);

void resample_rows(const SourceBand& source, const PlaneMap& output_to_source, int out_y0, View<float> out,
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

RowRange source_rows_needed(const PlaneMap& output_to_source, int out_y0, int out_rows, int out_width, int source_width,
                            int source_height) {
  // A straight edge stays straight: the four corners bound the rows, as long as the horizon is not crossed, which no
  // picture of a few degrees comes near. A bent one is followed in steps, between which a lens bows by less than a row.
  const int steps = output_to_source.bent() ? 32 : 1;
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for (int k = 0; k <= steps; ++k) {
    for (const double y : {static_cast<double>(out_y0), out_y0 + out_rows - 1.0}) {
      const Point s = output_to_source.apply({(out_width - 1.0) * k / steps, y});
      low = std::min(low, s.y);
      high = std::max(high, s.y);
    }
  }
  if (!(low <= high) || source_width < LanczosPolynomials::kTaps) return {};
  const double spare = output_to_source.bent() ? 1 : 0;
  const double first = std::max(0.0, std::floor(low) - 2 - spare);
  const double last = std::min(source_height - 1.0, std::floor(high) + 3 + spare);
  if (last < first) return {};
  return {static_cast<int>(first), static_cast<int>(last - first) + 1};
}

}  // namespace ng::math
#endif
