// math/resample_rows-inl.h - where the pixels of an output row lie in the source. One copy for each kind of processor.
//
// In double: a float cannot hold a thousandth of a pixel at the far side of a large sensor.
#if defined(NG_MATH_RESAMPLE_ROWS_INL_H) == defined(HWY_TARGET_TOGGLE)
#ifdef NG_MATH_RESAMPLE_ROWS_INL_H
#undef NG_MATH_RESAMPLE_ROWS_INL_H
#else
#define NG_MATH_RESAMPLE_ROWS_INL_H
#endif

#include <hwy/highway.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <vector>

#include "math/plane_map.h"
#include "math/resample.h"
#include "math/row_places.h"

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

constexpr int kMaxLanes = 16;
using D = hn::CappedTag<float, kMaxLanes>;
using DI = hn::RebindToSigned<D>;
using V = hn::Vec<D>;
using DW = hn::RepartitionToWide<D>;
using W = hn::Vec<DW>;

// Output pixels in a row whose source pixels are neighbours in a row as well, from left to right or (`backwards`) from
// right to left: what is left of their places beside whole pixels drifts slowly and evenly.
struct Stretch {
  int pixels = 0;
  bool backwards = false;
  int ix = 0, iy = 0;               // source pixel of the first
  double fx = 0, fy = 0;            // its place beyond that pixel
  double drift_x = 0, drift_y = 0;  // of the rest, for each pixel more
};

constexpr double kMaxSlope = 1.0 / 128;  // steeper rows have no stretches

// From the source place (sx, sy) on, where each output pixel moves on by (step_x, step_y): as far as the whole kernel
// lies in the band, and at most so many pixels.
inline Stretch stretch_at(double sx, double sy, double step_x, double step_y, double most, const SourceBand& source) {
  const double forward = step_x < 0 ? -1 : 1;
  const double drift_x = step_x - forward;
  if (std::fabs(step_y) > kMaxSlope) return {};
  const double px = std::floor(sx), py = std::floor(sy);
  const double last_x = source.pixels.width - 4, last_y = source.pixels.height - 4;
  if (!(px >= 2 && px <= last_x && py >= 2 && py <= last_y)) return {};
  const auto until_whole = [](double rest, double drift) {  // pixels for which 0 <= rest + drift k <= 1
    if (drift == 0) return std::numeric_limits<double>::infinity();
    return 1 + std::floor(drift > 0 ? (1 - rest) / drift : rest / -drift);
  };
  const double room = 1 + (forward > 0 ? last_x - px : px - 2);
  const double pixels = std::min({until_whole(sx - px, drift_x), until_whole(sy - py, step_y), room, most});
  return {static_cast<int>(pixels),
          forward < 0,
          static_cast<int>(px),
          static_cast<int>(py),
          sx - px,
          sy - py,
          drift_x,
          step_y};
}

// Without perspective: straight from end to end, and no quotient is needed.
class AffineRow {
 public:
  HWY_INLINE AffineRow(const Homography& map, int out_y)
      : m_(map.coefficients()), x_part_(m_[1] * out_y + m_[2]), y_part_(m_[4] * out_y + m_[5]) {}
  [[nodiscard]] Stretch stretch_from(int x0, const SourceBand& source) const {
    constexpr double kMost = 1 << 20;
    const double sy = m_[3] * x0 + y_part_ - source.y0;
    return stretch_at(m_[0] * x0 + x_part_, sy, m_[0], m_[3], kMost, source);
  }
  // Of the output pixels x0, x0 + 1, ...
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

// With perspective: where that is faint, straight between nodes.
class FlatRow {
 public:
  HWY_INLINE FlatRow(const Homography& map, int out_y)
      : m_(map.coefficients()),
        x_part_(m_[1] * out_y + m_[2]),
        y_part_(m_[4] * out_y + m_[5]),
        w_part_(m_[7] * out_y + 1) {
    // A row of about the source's scale bows by m6 nodes^2 / 4 pixels between two of them.
    constexpr double kMostBow = 3e-5;
    for (int nodes = 512; nodes >= 64 && nodes_ == 0; nodes /= 2)
      if (std::fabs(m_[6]) * nodes * nodes / 4 <= kMostBow) nodes_ = nodes;
  }
  [[nodiscard]] Stretch stretch_from(int x0, const SourceBand& source) const {
    if (nodes_ == 0) return {};
    const int pixels = nodes_ - x0 % nodes_;
    const Point here = place(x0), next = place(x0 + pixels);
    return stretch_at(here.x, here.y - source.y0, (next.x - here.x) / pixels, (next.y - here.y) / pixels, pixels,
                      source);
  }
  HWY_INLINE void at(int x0, W& sx, W& sy) const {
    const DW dw;
    const W at = hn::Iota(dw, x0);
    const W w = hn::Div(hn::Set(dw, 1.0), hn::MulAdd(hn::Set(dw, m_[6]), at, hn::Set(dw, w_part_)));
    sx = hn::Mul(hn::MulAdd(hn::Set(dw, m_[0]), at, hn::Set(dw, x_part_)), w);
    sy = hn::Mul(hn::MulAdd(hn::Set(dw, m_[3]), at, hn::Set(dw, y_part_)), w);
  }

 private:
  [[nodiscard]] Point place(int x) const {
    const double w = 1 / (m_[6] * x + w_part_);
    return {(m_[0] * x + x_part_) * w, (m_[3] * x + y_part_) * w};
  }

  const std::array<double, 8>& m_;
  double x_part_, y_part_, w_part_;
  int nodes_ = 0;  // pixels between two of them; 0: too strong a perspective
};

// Along the nodes of a bent map.
class BentRow {
 public:
  HWY_INLINE explicit BentRow(const RowPlaces& places) : places_(places) {}
  // Nodes lie closer than a vector is long.
  [[nodiscard]] static Stretch stretch_from(int, const SourceBand&) { return {}; }
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

// Where some neighbouring output pixels lie in the band: whole pixels and what is left, 0 <= f < 1.
struct Places {
  hn::Vec<DI> ix, iy;
  V fx, fy;
  V inside;  // 1 where the whole kernel lies in the band, else 0
  bool all_inside;
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
  // One coordinate of the places of half of the lanes.
  struct Coordinate {
    W whole, rest;
  };

  double top_, last_x_, last_y_;
};

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#endif  // NG_MATH_RESAMPLE_ROWS_INL_H
