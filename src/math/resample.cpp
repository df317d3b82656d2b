#include "math/resample.h"

#include <algorithm>
#include <cmath>
#include <limits>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/resample.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

struct Place {
  const float* corner;  // source pixel (floor(x) - 2, floor(y) - 2)
  const LanczosTable::Weights* wx;
  const LanczosTable::Weights* wy;
};

// Sum over 6 x 6 pixels: two vectors of four columns, overlapping by two (lanczos.h).
HWY_INLINE float interpolate(const Place& p, std::ptrdiff_t stride) {
  const hn::FixedTag<float, 4> d;
  const float* row = p.corner;
  auto left = hn::Mul(hn::LoadU(d, row), hn::Set(d, p.wy->tap(0)));
  auto right = hn::Mul(hn::LoadU(d, row + 2), hn::Set(d, p.wy->tap(0)));
  for (std::size_t k = 1; k < LanczosTable::kTaps; ++k) {
    row += stride;
    const auto w = hn::Set(d, p.wy->tap(k));
    left = hn::MulAdd(hn::LoadU(d, row), w, left);
    right = hn::MulAdd(hn::LoadU(d, row + 2), w, right);
  }
  const auto sum = hn::MulAdd(left, hn::LoadU(d, p.wx->left.data()), hn::Mul(right, hn::LoadU(d, p.wx->right.data())));
  return hn::GetLane(hn::SumOfLanes(d, sum));
}

// The value held inside the range of the inner 4 x 4 pixels, widened as the options say.
HWY_INLINE float clamp_overshoot(float value, const Place& p, std::ptrdiff_t stride, const ResampleOptions& options) {
  const hn::FixedTag<float, 4> d;
  const float* row = p.corner + stride + 1;
  auto low = hn::LoadU(d, row);
  auto high = low;
  for (int k = 1; k < 4; ++k) {
    row += stride;
    const auto v = hn::LoadU(d, row);
    low = hn::Min(low, v);
    high = hn::Max(high, v);
  }
  const float smallest = hn::GetLane(hn::MinOfLanes(d, low));
  const float largest = hn::GetLane(hn::MaxOfLanes(d, high));
  const float rise = options.overshoot * (largest - smallest) + options.guard;
  return std::min(std::max(value, smallest - options.guard), largest + rise);
}

void resample_row(const SourceBand& source, const Homography& map, int out_y, float* out, float* squares, int width,
                  const ResampleOptions& options, const LanczosTable& table) {
  constexpr float kNan = std::numeric_limits<float>::quiet_NaN();
  constexpr double kPhases = LanczosTable::kPhases;
  const View<const float>& src = source.pixels;
  const bool affine = map.is_affine();
  const Affine line = map.linear_at({0, static_cast<double>(out_y)});
  for (int x = 0; x < width; ++x) {
    const Point at{static_cast<double>(x), static_cast<double>(out_y)};
    const Point s = affine ? line.apply(at) : map.apply(at);
    const double fx = std::floor(s.x);
    const double fy = std::floor(s.y);
    const double row = fy - source.y0;
    // Written so that it is also true for NaN.
    if (!(fx >= 2 && row >= 2 && fx <= src.width - 4 && row <= src.height - 4)) {
      out[x] = kNan;
      squares[x] = 0;
      continue;
    }
    const int ix = static_cast<int>(fx);
    const int iy = static_cast<int>(row);
    if (!source.bad.empty()) {
      const std::uint8_t* b0 = source.bad.row(iy) + ix;
      const std::uint8_t* b1 = source.bad.row(iy + 1) + ix;
      if ((b0[0] | b0[1] | b1[0] | b1[1]) != 0) {
        out[x] = kNan;
        squares[x] = 0;
        continue;
      }
    }
    const Place place{src.row(iy - 2) + ix - 2, &table.at(static_cast<int>((s.x - fx) * kPhases + 0.5)),
                      &table.at(static_cast<int>((s.y - fy) * kPhases + 0.5))};
    float value = interpolate(place, src.stride);
    const float nearest = src.row(iy + (s.y - fy > 0.5))[ix + (s.x - fx > 0.5)];
    if (std::fabs(value - nearest) > options.guard) value = clamp_overshoot(value, place, src.stride, options);
    out[x] = value * options.flux_scale;
    squares[x] = place.wx->sum_of_squares * place.wy->sum_of_squares * options.flux_scale * options.flux_scale;
  }
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(resample_row);

void resample_rows(const SourceBand& source, const Homography& output_to_source, int out_y0, View<float> out,
                   View<float> kernel_squares, const ResampleOptions& options, const LanczosTable& table) {
  for (int y = 0; y < out.height; ++y) {
    HWY_DYNAMIC_DISPATCH(resample_row)
    (source, output_to_source, out_y0 + y, out.row(y), kernel_squares.row(y), out.width, options, table);
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
  if (!(low <= high) || source_width < LanczosTable::kTaps) return {};
  const double first = std::max(0.0, std::floor(low) - 2);
  const double last = std::min(source_height - 1.0, std::floor(high) + 3);
  if (last < first) return {};
  return {static_cast<int>(first), static_cast<int>(last - first) + 1};
}

}  // namespace ng::math
#endif
