#include "diagnose/pair_noise.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "base/parallel.h"

namespace ng::diagnose {
namespace {

constexpr double kClip = 6;             // standard deviations; of normal noise it takes 2e-9
constexpr int kMostTurns = 12;          // of the clipping
constexpr double kFlickerShare = 1e-3;  // of the noise: rows that differ by more have their own ratios

struct Sums {
  double n = 0, a = 0, b = 0, square = 0, difference = 0, weighted_signal = 0;
  Sums& operator+=(const Sums& o) {
    n += o.n;
    a += o.a;
    b += o.b;
    square += o.square;
    difference += o.difference;
    weighted_signal += o.weighted_signal;
    return *this;
  }
};

// The pixels of one cell within a region.
class Cell {
 public:
  Cell(View<const float> a, View<const float> b, int index, const PairOptions& o, Region region, const Context& ctx)
      : a_(a), b_(b), ctx_(ctx), step_(o.mosaic ? 2 : 1), zero_(o.zero_adu.empty() ? 0 : o.zero_adu[index]) {
    const int dx = o.mosaic ? index % 2 : 0, dy = o.mosaic ? index / 2 : 0;
    x0_ = region.x0 + ((dx - region.x0) % step_ + step_) % step_;
    y0_ = region.y0 + ((dy - region.y0) % step_ + step_) % step_;
    x1_ = region.x0 + region.width;
    rows_ = std::max(0, (region.y0 + region.height - y0_ + step_ - 1) / step_);
  }

  [[nodiscard]] int rows() const { return rows_; }

  // Sums by row; differences a - r b beyond `limit` (times sqrt(1 + r^2)) are left out, pixels without value too.
  Result<std::vector<Sums>> sums(const std::vector<double>& ratio, double limit) const {
    std::vector<Sums> rows(static_cast<std::size_t>(rows_));
    NG_CHECK(parallel_for(ctx_, rows_, [&](int i) {
      const int y = y0_ + i * step_;
      const float *a = a_.row(y), *b = b_.row(y);
      const double r = ratio[static_cast<std::size_t>(i)], share = 1 + r * r, beyond = limit * std::sqrt(share);
      Sums s;
      for (int x = x0_; x < x1_; x += step_) {
        const double va = a[x] - zero_, vb = b[x] - zero_, d = va - r * vb;
        if (!(std::fabs(d) <= beyond)) continue;
        s.n += 1;
        s.a += va;
        s.b += vb;
        s.difference += d;
        s.square += d * d / share;
      }
      s.weighted_signal = s.b * r * (1 + r) / share;
      rows[static_cast<std::size_t>(i)] = s;
    }));
    return rows;
  }

 private:
  View<const float> a_, b_;
  const Context& ctx_;
  int step_;
  double zero_;
  int x0_ = 0, y0_ = 0, x1_ = 0, rows_ = 0;
};

Sums total(const std::vector<Sums>& rows) {
  return std::accumulate(rows.begin(), rows.end(), Sums{}, [](Sums all, const Sums& row) { return all += row; });
}

// Ratio of each row, and how much they scatter beyond the noise of their means.
double row_ratios(const std::vector<Sums>& rows, double variance, double ratio, std::vector<double>& out) {
  double excess = 0, used = 0;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const Sums& s = rows[i];
    if (!(s.n > 1 && s.b > 0 && s.a > 0)) continue;
    out[i] = s.a / s.b;
    const double level = s.b / s.n;
    excess += (out[i] - ratio) * (out[i] - ratio) - variance * (1 + ratio * ratio) / (s.n * level * level);
    used += 1;
  }
  return used > 1 ? std::sqrt(std::max(0.0, excess / used)) : 0;
}

struct Noise {
  Sums all;
  double variance = 0, flicker = 0, ratio = 1;
};

Result<Noise> noise_of(const Cell& cell, bool lit) {
  const auto count = static_cast<std::size_t>(cell.rows());
  constexpr double kNoLimit = 1e30;
  std::vector<double> ratio(count, 1.0);
  NG_TRY(std::vector<Sums> rows, cell.sums(ratio, kNoLimit));
  Noise noise;
  noise.all = total(rows);
  if (noise.all.n < 16) return Error(Code::kTooFew, "the frames hold no pixels with values");
  if (lit && noise.all.a > 0 && noise.all.b > 0) noise.ratio = noise.all.a / noise.all.b;
  bool by_row = false;
  double limit = kNoLimit;
  for (int turn = 0; turn < kMostTurns; ++turn) {
    const double before = noise.all.n;
    if (!by_row) std::fill(ratio.begin(), ratio.end(), noise.ratio);
    NG_TRY(rows, cell.sums(ratio, limit));
    noise.all = total(rows);
    if (noise.all.n < 16) return Error(Code::kTooFew, "the two frames have nothing in common");
    const double n = noise.all.n, mean = noise.all.difference / n;
    noise.variance = noise.all.square / n;
    if (by_row) {
      noise.variance *= n / std::max(1.0, n - static_cast<double>(count));
    } else {
      noise.variance -= mean * mean / (1 + noise.ratio * noise.ratio);
    }
    if (lit && !by_row) {
      std::vector<double> single = ratio;
      noise.flicker = row_ratios(rows, noise.variance, noise.ratio, single);
      const double level = noise.all.b / n, patterned = noise.flicker * level;
      // The variance holds the flicker still: what is left without it decides.
      const double clean = std::max(noise.variance - patterned * patterned / 2, 1e-12);
      if (patterned * patterned > kFlickerShare * clean) {
        by_row = true;
        ratio = std::move(single);
        limit = kNoLimit;
        continue;
      }
    }
    if (limit < kNoLimit && noise.all.n == before) break;
    limit = kClip * std::sqrt(noise.variance);
  }
  return noise;
}

}  // namespace

Result<std::vector<CellNoise>> pair_noise(View<const float> a, View<const float> b, const PairOptions& options,
                                          const Context& ctx) {
  if (a.width != b.width || a.height != b.height)
    return Error(Code::kNoMatch, "the two frames differ in size: pairs must be of one camera and binning");
  std::vector<CellNoise> cells;
  const Region whole{0, 0, a.width, a.height}, middle{a.width / 3, a.height / 3, a.width / 3, a.height / 3};
  for (int c = 0; c < (options.mosaic ? 4 : 1); ++c) {
    NG_TRY(const Noise all, noise_of(Cell(a, b, c, options, whole, ctx), options.lit));
    NG_TRY(const Noise centre, noise_of(Cell(a, b, c, options, middle, ctx), options.lit));
    CellNoise n;
    n.level_adu = (all.all.a + all.all.b) / (2 * all.all.n);
    n.signal_adu = all.all.weighted_signal / all.all.n;
    n.variance_adu2 = all.variance;
    n.ratio = all.ratio;
    n.flicker = all.flicker;
    n.pixels = static_cast<std::int64_t>(all.all.n);
    n.centre_adu = (centre.all.a + centre.all.b) / (2 * centre.all.n);
    n.centre_variance_adu2 = centre.variance;
    cells.push_back(n);
  }
  return cells;
}

int value_step(View<const float> frame) {
  long step = 0, first = -1;
  for (int y = 0; y < frame.height; y += 3)
    for (int x = y % 2; x < frame.width; x += 2) {
      const float v = frame(x, y);
      if (!std::isfinite(v)) continue;
      if (v != std::floor(v)) return 1;
      if (first < 0) first = std::lround(v);
      step = std::gcd(step, std::labs(std::lround(v) - first));
      if (step == 1) return 1;
    }
  return step < 1 || step > 4096 ? 1 : static_cast<int>(step);
}

}  // namespace ng::diagnose
