#include "diagnose/nonuniformity.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "base/parallel.h"
#include "math/robust.h"

namespace ng::diagnose {
namespace {

constexpr double kClip = 6;
constexpr int kTurns = 6;
constexpr int kReach = 3;                            // pixels of the same colour, each way
constexpr int kBlock = 32;                           // of pixels of the same colour
constexpr double kMedianError = 1.2533141373155001;  // of a median over that of a mean: sqrt(pi / 2)

struct Sums {
  double n = 0, sum = 0, square = 0;
};

// Mean and variance of value(x, y) with what lies beyond kClip left out.
template <typename Row>
Result<Sums> clipped(int height, double& mean, double& variance, const Context& ctx, const Row& row_values) {
  double limit = 1e30;
  Sums all;
  for (int turn = 0; turn < kTurns; ++turn) {
    std::vector<Sums> rows(static_cast<std::size_t>(height));
    const double centre = mean;
    NG_CHECK(parallel_for(ctx, height, [&](int y) {
      Sums s;
      row_values(y, [&](double v) {
        const double off = v - centre;
        if (!(std::fabs(off) <= limit)) return;
        s.n += 1;
        s.sum += off;
        s.square += off * off;
      });
      rows[static_cast<std::size_t>(y)] = s;
    }));
    const double before = all.n;
    all = {};
    for (const Sums& s : rows) all = {all.n + s.n, all.sum + s.sum, all.square + s.square};
    if (all.n < 2) return Error(Code::kTooFew, "the frames hold no pixels with values");
    const double off = all.sum / all.n;
    mean = centre + off;
    variance = std::max(0.0, all.square / all.n - off * off);
    limit = kClip * std::sqrt(variance);
    if (all.n == before) break;
  }
  return all;
}

}  // namespace

Result<SpatialVariance> spatial_variance(View<const float> image, const Context& ctx) {
  SpatialVariance v;
  const auto each = [&](int y, const auto& take) {
    const float* row = image.row(y);
    for (int x = 0; x < image.width; ++x)
      if (std::isfinite(row[x])) take(static_cast<double>(row[x]));
  };
  NG_TRY(const Sums all, clipped(image.height, v.mean, v.total, ctx, each));
  v.count = all.n;

  const double limit = kClip * std::sqrt(v.total);
  std::vector<Sums> columns(static_cast<std::size_t>(image.width)), rows(static_cast<std::size_t>(image.height));
  for (int y = 0; y < image.height; ++y)
    for (int x = 0; x < image.width; ++x) {
      const double off = image(x, y) - v.mean;
      if (!(std::fabs(off) <= limit)) continue;
      columns[static_cast<std::size_t>(x)].n += 1;
      columns[static_cast<std::size_t>(x)].sum += off;
      rows[static_cast<std::size_t>(y)].n += 1;
      rows[static_cast<std::size_t>(y)].sum += off;
    }
  const auto of_means = [](const std::vector<Sums>& lines) {
    double n = 0, sum = 0, square = 0;
    for (const Sums& s : lines) {
      if (s.n < 1) continue;
      const double mean = s.sum / s.n;
      n += 1;
      sum += mean;
      square += mean * mean;
    }
    return n > 1 ? (square - sum * sum / n) / (n - 1) : 0.0;
  };
  // var(column means) = columns + pixels / height, var(row means) = rows + pixels / width, all three add up to total.
  const double by_column = of_means(columns), by_row = of_means(rows);
  const double h = image.height, w = image.width;
  v.pixels = std::max(0.0, (v.total - by_column - by_row) / (1 - 1 / h - 1 / w));
  v.columns = std::max(0.0, by_column - v.pixels / h);
  v.rows = std::max(0.0, by_row - v.pixels / w);
  return v;
}

Result<LocalVariance> local_variance(View<const float> image, int step, int cell, const Context& ctx) {
  const int dx = cell % 2, dy = cell / 2;
  // In pixels of this cell, without the border that has no whole surroundings.
  const int width = (image.width - dx + step - 1) / step - 2 * kReach;
  const int height = (image.height - dy + step - 1) / step - 2 * kReach;
  const int across = width / kBlock, down = height / kBlock;
  if (across < 1 || down < 1) return Error(Code::kTooFew, "the frames are too small for a PRNU");
  constexpr double kBox = (2 * kReach + 1) * (2 * kReach + 1);
  const auto pixel = [&](int x, int y) { return image(dx + x * step, dy + y * step); };
  std::vector<double> variances(static_cast<std::size_t>(across) * down), levels(variances.size());
  NG_CHECK(parallel_for(ctx, static_cast<int>(variances.size()), [&](int i) {
    const int x0 = kReach + i % across * kBlock, y0 = kReach + i / across * kBlock;
    std::vector<float> off;
    double level = 0;
    for (int y = y0; y < y0 + kBlock; ++y)
      for (int x = x0; x < x0 + kBlock; ++x) {
        double box = 0;
        for (int v = -kReach; v <= kReach; ++v)
          for (int u = -kReach; u <= kReach; ++u) box += pixel(x + u, y + v);
        const double value = pixel(x, y) - box / kBox;
        if (std::isfinite(value)) off.push_back(static_cast<float>(value));
        level += box / kBox;
      }
    const auto index = static_cast<std::size_t>(i);
    const double sigma = off.empty() ? 0 : math::clipped_stats(off, kClip).sigma;
    variances[index] = sigma * sigma / (1 - 1 / kBox);
    levels[index] = level / (kBlock * kBlock);
  }));
  LocalVariance v;
  for (const double level : levels) v.mean += level / static_cast<double>(levels.size());
  v.variance = math::median(std::span<double>(variances));
  v.error = kMedianError * math::mad_sigma(std::span<double>(variances), v.variance) /
            std::sqrt(static_cast<double>(variances.size()));
  return v;
}

double prnu_share(double variance_50_adu2, double variance_dark_adu2, double level_50_adu, double level_dark_adu) {
  const double own = variance_50_adu2 - variance_dark_adu2;
  return own > 0 ? std::sqrt(own) / (level_50_adu - level_dark_adu) : 0;
}

double dsnu_e(double variance_dark_adu2, double gain_e_adu) {
  return variance_dark_adu2 > 0 ? std::sqrt(variance_dark_adu2) * gain_e_adu : 0;
}

}  // namespace ng::diagnose
