#include "measure/trail_bins.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <vector>

#include "base/parallel.h"
#include "math/counted.h"
#include "math/robust.h"
#include "math/usable_sums.h"

namespace ng::measure {
namespace {

constexpr float kClip = 4;   // sigma of a pixel: a star that was not found must not draw a line
constexpr int kSampled = 3;  // every third bin tells the scatter of a hundred thousand to half a percent
constexpr float kNone = std::numeric_limits<float>::quiet_NaN();

// Side of a bin in pixels of half size, such that the longer side falls into a power of two of them: line sums are made
// for that.
int bin_size(int width, int height) {
  const auto longer = static_cast<unsigned>(std::max(width, height));
  const unsigned bins =
      std::min<unsigned>(math::kMostCounted, std::bit_floor(std::max(1u, 2 * longer / kLeastTrailBin)));
  return static_cast<int>((longer + bins - 1) / bins);
}

// Means of the usable pixels of each bin, and 1 where they are enough.
struct Means {
  Image<float> value, valid;  // the value is 0 where there is none
};

// sums[x] += sign times the sum over the bins within `reach` of bin (x, y). `columns` is scratch.
void add_box(const Image<float>& bins, int y, int reach, float sign, std::vector<float>& columns,
             std::vector<float>& sums) {
  const auto width = static_cast<std::size_t>(bins.width());
  columns.assign(width + 2 * static_cast<std::size_t>(reach), 0.0f);  // nothing lies beyond the rims
  for (int v = std::max(0, y - reach); v <= std::min(bins.height() - 1, y + reach); ++v) {
    const float* row = bins.plane().row(v);
    float* column = columns.data() + reach;
    for (std::size_t x = 0; x < width; ++x) column[x] += row[x];
  }
  for (std::size_t k = 0; k <= 2 * static_cast<std::size_t>(reach); ++k)
    for (std::size_t x = 0; x < width; ++x) sums[x] += sign * columns[x + k];
}

// Less the mean of the bins around, 9 x 9 without the inner 3 x 3; NaN where it is not known.
Image<float> without_slow_structure(const Means& means) {
  constexpr int kReach = 4, kCore = 1;
  const int w = means.value.width(), h = means.value.height();
  Image<float> rest(w, h);
  std::vector<float> columns, sums, counts;
  for (int y = 0; y < h; ++y) {
    sums.assign(static_cast<std::size_t>(w), 0.0f);
    counts.assign(static_cast<std::size_t>(w), 0.0f);
    add_box(means.value, y, kReach, 1, columns, sums);
    add_box(means.value, y, kCore, -1, columns, sums);
    add_box(means.valid, y, kReach, 1, columns, counts);
    add_box(means.valid, y, kCore, -1, columns, counts);
    const float* value = means.value.plane().row(y);
    const float* valid = means.valid.plane().row(y);
    float* out = rest.plane().row(y);
    for (int x = 0; x < w; ++x) {
      const auto i = static_cast<std::size_t>(x);
      out[x] = valid[x] == 0 || counts[i] < 10 ? kNone : value[x] - sums[i] / counts[i];
    }
  }
  return rest;
}

// In units of their own scatter.
Image<std::int32_t> standardised(const Image<float>& bins) {
  Image<std::int32_t> out(bins.width(), bins.height(), 1, 0);
  std::vector<float> some;
  for (int y = 0; y < bins.height(); ++y)
    for (int x = y % kSampled; x < bins.width(); x += kSampled)
      if (const float v = bins.plane()(x, y); !std::isnan(v)) some.push_back(v);
  if (some.empty()) return out;
  const float sigma = std::max(1e-6f, math::sky_level(some).sigma);
  for (int y = 0; y < bins.height(); ++y) {
    const float* from = bins.plane().row(y);
    std::int32_t* into = out.plane().row(y);
    for (int x = 0; x < bins.width(); ++x)
      if (!std::isnan(from[x]))
        into[x] = math::counted(std::clamp(from[x] / sigma, -math::kMostCountedValue, math::kMostCountedValue));
  }
  return out;
}

}  // namespace

Result<TrailBins> trail_bins(const HalfSize& half, View<const std::uint8_t> mask, const Context& ctx) {
  const View<const float> image = half.plane();
  const int size = bin_size(image.width, image.height);
  const int w = image.width / size, h = image.height / size;
  Means means{Image<float>(w, h), Image<float>(w, h)};
  NG_CHECK(parallel_for(ctx, h, [&](int j) {
    // Column by column first: neighbours side by side are what a vector wants.
    const auto width = static_cast<std::size_t>(w) * static_cast<std::size_t>(size);
    std::vector<float> light(width, 0.0f), number(width, 0.0f);
    for (int y = j * size; y < (j + 1) * size; ++y) {
      math::add_usable(image.row(y), mask.row(y), kClip, static_cast<int>(width), light.data(), number.data());
    }
    for (int i = 0; i < w; ++i) {
      float sum = 0, count = 0;
      for (int x = i * size; x < (i + 1) * size; ++x) {
        sum += light[static_cast<std::size_t>(x)];
        count += number[static_cast<std::size_t>(x)];
      }
      const bool enough = count >= static_cast<float>(size * size) / 2;
      means.valid.plane()(i, j) = enough ? 1.0f : 0.0f;
      means.value.plane()(i, j) = enough ? sum / count : 0.0f;
    }
  }));
  return TrailBins{2 * size, standardised(without_slow_structure(means))};
}

}  // namespace ng::measure
