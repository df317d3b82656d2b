#include "diagnose/nonuniformity.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "base/parallel.h"

namespace ng::diagnose {
namespace {

constexpr double kClip = 6;
constexpr int kTurns = 6;
constexpr int kReach = 3;  // pixels of the same colour, each way

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
  const int reach = kReach * step, dx = cell % 2, dy = cell / 2;
  const int x0 = dx + reach, y0 = dy + reach;
  const int rows = (image.height - dy - reach - y0 + step - 1) / step;
  if (rows < 1 || image.width - reach <= x0) return Error(Code::kTooFew, "the frames are too small for a PRNU");
  constexpr double kBox = (2 * kReach + 1) * (2 * kReach + 1);
  LocalVariance v;
  const auto each = [&](int i, const auto& take) {
    const int y = y0 + i * step;
    // Sums of the seven pixels of each column, then slid along the row.
    std::vector<double> column;
    for (int x = dx; x < image.width; x += step) {
      double sum = 0;
      for (int k = -kReach; k <= kReach; ++k) sum += image(x, y + k * step);
      column.push_back(sum);
    }
    double box = 0;
    for (int k = 0; k < 2 * kReach; ++k) box += column[static_cast<std::size_t>(k)];
    for (std::size_t k = 2 * kReach; k < column.size(); ++k) {
      box += column[k];
      const float middle = image(dx + static_cast<int>(k - kReach) * step, y);
      take(middle - box / kBox);
      box -= column[k - 2 * kReach];
    }
  };
  NG_TRY(const Sums all, clipped(rows, v.mean, v.variance, ctx, each));
  v.count = all.n;
  v.variance /= 1 - 1 / kBox;
  double level = 0, n = 0;
  for (int y = dy; y < image.height; y += step)
    for (int x = dx; x < image.width; x += step)
      if (std::isfinite(image(x, y))) {
        level += image(x, y);
        n += 1;
      }
  v.mean = n > 0 ? level / n : 0;
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
