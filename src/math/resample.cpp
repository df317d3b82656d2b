#include "math/resample.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <vector>

#include "math/row_places.h"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/resample.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

#include "math/resample_kernel-inl.h"
#include "math/resample_rows-inl.h"

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

// Values between the rows of the source, at neighbouring columns, and the sums of the squared weights they have.
class Crossings {
 public:
  // Room for stretches of a row of `width` pixels, whole vectors.
  explicit Crossings(int width)
      : values_(static_cast<std::size_t>(width + kMaxLanes + kTaps)), squares_(values_.size()) {}

  // Columns kTapsBefore before the first of `pixels` places to kTaps - kTapsBefore behind the last, where the row
  // crosses them: column m of the first place at cross + m drift beyond the third row of `corner`.
  HWY_INLINE void follow(const Run& corner, double cross, double drift, int pixels,
                         const LanczosPolynomials& polynomials) {
    const D d;
    const int lanes = static_cast<int>(hn::Lanes(d));
    const V cross_0 = hn::Set(d, static_cast<float>(cross)), cross_drift = hn::Set(d, static_cast<float>(drift));
    const int columns = pixels + kTaps - 1;
    for (int next = 0; next < columns; next += lanes) {
      const int k = std::min(next, columns - lanes);  // the last vector ends with them, whatever is done already
      const V at = hn::Add(hn::Iota(d, 0.0f), hn::Set(d, static_cast<float>(k - kTapsBefore)));
      Weights w;
      weights_at(hn::MulAdd(at, cross_drift, cross_0), polynomials, w);
      V sum = hn::Zero(d);
      for (int r = 0; r < kTaps; ++r) sum = hn::MulAdd(w.tap[r], corner.at(r, k), sum);
      hn::StoreU(sum, d, values_.data() + k);
      hn::StoreU(w.squares, d, squares_.data() + k);
    }
  }
  [[nodiscard]] const float* values() const { return values_.data(); }
  [[nodiscard]] const float* squares() const { return squares_.data(); }

 private:
  std::vector<float> values_, squares_;
};

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
    const Places places = finder.at(row, x);
    // A picture that has been turned round runs right to left: its lanes are taken in the order of the source.
    const bool reversed = hn::ExtractLane(places.ix, hn::Lanes(di) - 1) < hn::GetLane(places.ix);
    const V fx = reversed ? hn::Reverse(d, places.fx) : places.fx;
    const V fy = reversed ? hn::Reverse(d, places.fy) : places.fy;
    const auto ix = reversed ? hn::Reverse(di, places.ix) : places.ix;
    const auto iy = reversed ? hn::Reverse(di, places.iy) : places.iy;
    Weights wx, wy;
    weights_at(fx, polynomials, wx);
    weights_at(fy, polynomials, wy);
    V value = hn::Zero(d);
    const Runs runs = places.all_inside ? by_runs(ix, iy, fx, fy, wx, wy, value) : Runs{};
    if (!runs.done) {
      const View<const float>& src = source.pixels;
      const auto offset = hn::Add(hn::Mul(iy, hn::Set(di, static_cast<std::int32_t>(src.stride))), ix);
      value = interpolate(Scattered{src.data - 2 * src.stride - 2, src.stride, offset}, fx, fy, wx, wy, options);
    }
    store(value, hn::Mul(wx.squares, wy.squares), reversed, out + x, squares + x);
    if (!runs.done || runs.meet_bad) blank(source, places, out + x, squares + x);
  }

  // The first `pixels` (whole vectors) of a stretch that begins at output pixel x: columns of the source first, where
  // the row crosses them, then between the columns.
  HWY_INLINE void along(const Stretch& stretch, int x, int pixels, Crossings& crossings, float* out,
                        float* squares) const {
    const D d;
    const int lanes = static_cast<int>(hn::Lanes(d));
    const V count = hn::Iota(d, 0.0f);
    // In the order of the source: place m, just behind column first_x + m, is that of output pixel m, or of the last
    // but m.
    const int first_x = stretch.backwards ? stretch.ix - (pixels - 1) : stretch.ix;
    const double turn = stretch.backwards ? -1 : 1, begin = stretch.backwards ? pixels - 1 : 0;
    const double dx = turn * stretch.drift_x, dy = turn * stretch.drift_y;
    const double fx = stretch.fx + begin * stretch.drift_x, fy = stretch.fy + begin * stretch.drift_y;
    const float* corner = source.pixels.row(stretch.iy - 2) + first_x - kTapsBefore;
    // The row crosses column m a little before it comes to place m.
    crossings.follow({corner, source.pixels.stride}, fy - dy * fx / (1 + dx), dy / (1 + dx), pixels, polynomials);
    const V fx_0 = hn::Set(d, static_cast<float>(fx)), fx_drift = hn::Set(d, static_cast<float>(dx));
    const V fy_0 = hn::Set(d, static_cast<float>(fy)), fy_drift = hn::Set(d, static_cast<float>(dy));
    // Inlined, or the weights would go through memory.
    const auto between_columns = [&](const auto& weights_of) __attribute__((always_inline)) {
      for (int m = 0; m < pixels; m += lanes) {
        const V at = hn::Add(count, hn::Set(d, static_cast<float>(m)));
        const V fx_here = hn::MulAdd(at, fx_drift, fx_0), fy_here = hn::MulAdd(at, fy_drift, fy_0);
        V tap[kTaps];
        weights_of(at, fx_here, tap);
        V value = hn::Zero(d), kernel = hn::Zero(d);
        for (int c = 0; c < kTaps; ++c) {
          value = hn::MulAdd(tap[c], hn::LoadU(d, crossings.values() + m + c), value);
          kernel = hn::MulAdd(hn::Mul(tap[c], tap[c]), hn::LoadU(d, crossings.squares() + m + c), kernel);
        }
        value = held(value, Run{corner + m, source.pixels.stride}, fx_here, fy_here, options);
        const int k = stretch.backwards ? x + pixels - lanes - m : x + m;
        store(value, kernel, stretch.backwards, out + k, squares + k);
        if (run_meets_bad(source, first_x + m, stretch.iy, lanes))
          blank_run(source, first_x + m, stretch.iy, stretch.backwards, out + k, squares + k);
      }
    };
    if (std::fabs(dx) * pixels <= DriftingWeights::kMostDrift) {
      const DriftingWeights drifting(fx, dx, pixels, polynomials);
      between_columns([&](V at, V, V * tap) __attribute__((always_inline)) {
        for (int c = 0; c < kTaps; ++c) tap[c] = drifting.tap(c, at);
      });
    } else {
      between_columns([&](V, V place, V * tap) __attribute__((always_inline)) {
        Weights w;
        weights_at(place, polynomials, w);
        std::copy(w.tap, w.tap + kTaps, tap);
      });
    }
  }

 private:
  // Lanes whose source pixels are neighbours in a row are loaded together. Not done where there are more than a few
  // such runs, or one would begin or end beyond its row.
  struct Runs {
    bool done = false, meet_bad = false;
  };
  HWY_INLINE Runs by_runs(hn::Vec<DI> ix, hn::Vec<DI> iy, V fx, V fy, const Weights& wx, const Weights& wy,
                          V& value) const {
    constexpr int kMostRuns = 5;  // beyond, picking each lane's pixels by itself is as quick
    const D d;
    const DI di;
    const int lanes = static_cast<int>(hn::Lanes(d));
    const auto begin = hn::Sub(ix, hn::Iota(di, 0));  // where lane 0 of the run would lie
    const std::size_t last = hn::Lanes(di) - 1;
    if (std::abs(hn::ExtractLane(iy, last) - hn::GetLane(iy)) +
            std::abs(hn::ExtractLane(begin, last) - hn::GetLane(begin)) >=
        kMostRuns)
      return {};
    Runs runs;
    auto left = hn::FirstN(di, static_cast<std::size_t>(lanes));
    for (int run = 0; run < kMostRuns && !hn::AllFalse(di, left); ++run) {
      const auto lane = static_cast<std::size_t>(hn::FindFirstTrue(di, left));
      const int x0 = hn::ExtractLane(begin, lane), y0 = hn::ExtractLane(iy, lane);
      if (x0 < kTapsBefore || x0 + lanes + kTaps - kTapsBefore - 1 > source.pixels.width) return {};
      runs.meet_bad = runs.meet_bad || run_meets_bad(source, x0, y0, lanes);
      const auto own = hn::And(left, hn::And(hn::Eq(begin, hn::Set(di, x0)), hn::Eq(iy, hn::Set(di, y0))));
      const Run here{source.pixels.row(y0 - kTapsBefore) + x0 - kTapsBefore, source.pixels.stride};
      value = hn::IfThenElse(hn::RebindMask(d, own), interpolate(here, fx, fy, wx, wy, options), value);
      left = hn::AndNot(own, left);
    }
    runs.done = hn::AllFalse(di, left);
    return runs;
  }

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

// Stretch by stretch; the vectors between them one by one.
template <typename Row>
HWY_INLINE void resample_along(const Resampler& resampler, const Row& row, Crossings& crossings, float* out,
                               float* squares, int width) {
  const int lanes = static_cast<int>(hn::Lanes(D()));
  for (int x = 0; x < width;) {
    const Stretch stretch = row.stretch_from(x, resampler.source);
    const int wanted = (width - x + lanes - 1) / lanes * lanes;
    const int pixels = std::min(stretch.pixels / lanes * lanes, wanted);
    if (pixels > 0) {
      resampler.along(stretch, x, pixels, crossings, out, squares);
      x += pixels;
    } else {
      resampler.vector_at(row, x, out, squares);
      x += lanes;
    }
  }
}

void resample_band(const SourceBand& source, const PlaneMap& map, int out_y0, View<float> out, View<float> squares,
                   const ResampleOptions& options, const LanczosPolynomials& polynomials) {
  const Resampler resampler(source, options, polynomials);
  Crossings crossings(out.width);
  const auto along = [&](const auto& row, int y) {
    resample_along(resampler, row, crossings, out.row(y), squares.row(y), out.width);
  };
  for (int y = 0; y < out.height; ++y) {
    if (map.bent()) {
      const RowPlaces places(map, out_y0 + y, out.width);
      along(BentRow(places), y);
    } else if (map.plane().is_affine()) {
      along(AffineRow(map.plane(), out_y0 + y), y);
    } else {
      along(FlatRow(map.plane(), out_y0 + y), y);
    }
  }
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(resample_band);

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
  HWY_DYNAMIC_DISPATCH(resample_band)(source, output_to_source, out_y0, out, kernel_squares, options, polynomials);
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
