#include "measure/trail_lines.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <vector>

#include "base/parallel.h"
#include "math/best_line.h"
#include "math/line_sums.h"
#include "math/robust.h"
#include "math/usable_sums.h"

namespace ng::measure {
namespace {

constexpr float kShortest = 30;  // bins: shorter lines cannot be told from anything else
constexpr float kClip = 4;       // sigma of a pixel: a star that was not found must not draw a line

// Side of a bin in pixels of half size, such that the longer side falls into a power of two of them: line sums are made
// for that.
int bin_size(int width, int height) {
  const auto longer = static_cast<unsigned>(std::max(width, height));
  const unsigned bins = std::bit_floor(std::max(1u, 2 * longer / kLeastTrailBin));
  return static_cast<int>((longer + bins - 1) / bins);
}

// Takes off the mean of the bins around, 9 x 9 without the inner 3 x 3; then clipped at 6 times its own scatter.
void remove_slow_structure(TrailBins& b) {
  constexpr int kReach = 4, kCore = 1;
  const int w = b.value.width(), h = b.value.height();
  Image<double> sums(w + 1, h + 1, 1, 0.0), counts(w + 1, h + 1, 1, 0.0);
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      const auto integrate = [&](Image<double>& s, double v) {
        s.plane()(x + 1, y + 1) = v + s.plane()(x, y + 1) + s.plane()(x + 1, y) - s.plane()(x, y);
      };
      integrate(sums, static_cast<double>(b.value.plane()(x, y)));
      integrate(counts, static_cast<double>(b.valid.plane()(x, y)));
    }
  const auto within = [&](const Image<double>& s, int x, int y, int r) {
    const int x0 = std::max(0, x - r), y0 = std::max(0, y - r), x1 = std::min(w, x + r + 1),
              y1 = std::min(h, y + r + 1);
    return s.plane()(x1, y1) - s.plane()(x0, y1) - s.plane()(x1, y0) + s.plane()(x0, y0);
  };
  std::vector<float> rest;
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      float& v = b.value.plane()(x, y);
      const double n = within(counts, x, y, kReach) - within(counts, x, y, kCore);
      if (b.valid.plane()(x, y) == 0 || n < 10) {
        v = b.valid.plane()(x, y) = 0;
        continue;
      }
      v -= static_cast<float>((within(sums, x, y, kReach) - within(sums, x, y, kCore)) / n);
      rest.push_back(v);
    }
  if (rest.empty()) return;
  const float sigma = std::max(1e-6f, math::sky_level(rest).sigma);
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      float& v = b.value.plane()(x, y);
      v = std::clamp(v / sigma, -6.0f, 6.0f);
    }
}

// Lines are summed from left to right and upwards; the other directions by turning the picture.
struct Turn {
  bool transpose, flip;
};
constexpr std::array<Turn, 4> kTurns{{{false, false}, {false, true}, {true, false}, {true, true}}};

Image<float> turned(const Image<float>& image, const Turn& turn) {
  const int w = turn.transpose ? image.height() : image.width();
  const int h = turn.transpose ? image.width() : image.height();
  Image<float> out(w, h);
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      const int v = turn.flip ? h - 1 - y : y;
      out.plane()(x, y) = turn.transpose ? image.plane()(v, x) : image.plane()(x, v);
    }
  return out;
}

}  // namespace

Result<TrailBins> trail_bins(const HalfSize& half, View<const std::uint8_t> mask, const Context& ctx) {
  const View<const float> image = half.plane();
  const int size = bin_size(image.width, image.height);
  TrailBins binned{2 * size, Image<float>(image.width / size, image.height / size),
                   Image<float>(image.width / size, image.height / size)};
  NG_CHECK(parallel_for(ctx, binned.value.height(), [&](int j) {
    // Column by column first: neighbours side by side are what a vector wants.
    const auto width = static_cast<std::size_t>(binned.value.width()) * static_cast<std::size_t>(size);
    std::vector<float> light(width, 0.0f), number(width, 0.0f);
    for (int y = j * size; y < (j + 1) * size; ++y) {
      math::add_usable(image.row(y), mask.row(y), kClip, static_cast<int>(width), light.data(), number.data());
    }
    std::vector<float> sum(static_cast<std::size_t>(binned.value.width()), 0.0f), count(sum.size(), 0.0f);
    for (std::size_t x = 0; x < width; ++x) {
      sum[x / static_cast<std::size_t>(size)] += light[x];
      count[x / static_cast<std::size_t>(size)] += number[x];
    }
    for (std::size_t i = 0; i < sum.size(); ++i) {
      const bool enough = count[i] >= static_cast<float>(size * size) / 2;
      binned.valid.plane()(static_cast<int>(i), j) = enough ? 1.0f : 0.0f;
      binned.value.plane()(static_cast<int>(i), j) = enough ? sum[i] / count[i] : 0.0f;
    }
  }));
  remove_slow_structure(binned);
  return binned;
}

LineSearch::LineSearch(const TrailBins& bins) {
  for (std::size_t k = 0; k < kTurns.size(); ++k) counts_[k] = math::line_sums(turned(bins.valid, kTurns[k]).plane());
}

Course LineSearch::strongest(const TrailBins& b) const {
  Course best;
  for (std::size_t k = 0; k < kTurns.size(); ++k) {
    const Image<float> value = turned(b.value, kTurns[k]);
    const Image<float> sums = math::line_sums(value.plane());
    const int n = sums.height();
    for (int rise = 0; rise < n; ++rise) {
      const math::Best row =
          math::best_line(sums.plane().row(rise), counts_[k].plane().row(rise), sums.width(), kShortest);
      if (row.at < 0 || row.snr <= best.snr) continue;
      double x0 = 0, y0 = row.at - n, x1 = n - 1, y1 = row.at - n + rise;
      if (kTurns[k].flip) {
        y0 = value.height() - 1 - y0;
        y1 = value.height() - 1 - y1;
      }
      if (kTurns[k].transpose) {
        std::swap(x0, y0);
        std::swap(x1, y1);
      }
      best = {b.pixel(x0), b.pixel(y0), b.pixel(x1), b.pixel(y1), row.snr};
    }
  }
  return best;
}

}  // namespace ng::measure
