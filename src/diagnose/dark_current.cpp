#include "diagnose/dark_current.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/parallel.h"
#include "math/robust.h"
#include "rig/sensor.h"

namespace ng::diagnose {
namespace {

constexpr int kBlock = 32;
constexpr double kHot = 5;                           // standard deviations within a block
constexpr double kGlow = 5;                          // standard deviations of the blocks
constexpr double kMedianError = 1.2533141373155001;  // of the median over that of the mean (checks: sqrt(pi/2))
constexpr double kLeastSpanC = 3;
// Pixels that are warm, but within the clipping, raise the usual level: by 0.6 % in the cameras of sensor_check.py.
constexpr double kWarmShare = 0.006;

constexpr double kZeroC = 273.15, kBoltzmannEvPerK = 8.617333262e-5;  // CODATA 2018

double inverse_2kt(double celsius) {
  return 1 / (2 * kBoltzmannEvPerK * (celsius + kZeroC));
}

struct Line {
  Measured slope;
  double start = 0, chi2 = 0;
};

struct Point {
  double x, y, error;
};

Line fit_line(const std::vector<Point>& points) {
  double w = 0, wx = 0, wy = 0;
  for (const Point& p : points) {
    const double weight = 1 / (p.error * p.error);
    w += weight;
    wx += weight * p.x;
    wy += weight * p.y;
  }
  const double x0 = wx / w, y0 = wy / w;
  double sxx = 0, sxy = 0;
  for (const Point& p : points) {
    const double weight = 1 / (p.error * p.error);
    sxx += weight * (p.x - x0) * (p.x - x0);
    sxy += weight * (p.x - x0) * (p.y - y0);
  }
  Line line;
  line.slope.value = sxy / sxx;
  line.start = y0 - line.slope.value * x0;
  for (const Point& p : points) line.chi2 += std::pow((p.y - line.start - line.slope.value * p.x) / p.error, 2);
  line.chi2 = points.size() > 2 ? line.chi2 / (static_cast<double>(points.size()) - 2) : 0;
  line.slope.error = std::sqrt(std::max(1.0, line.chi2) / sxx);
  return line;
}

}  // namespace

Result<DarkLevel> dark_level(View<const float> dark, View<const float> bias, double exposure_s, const Context& ctx) {
  const int across = dark.width / kBlock, down = dark.height / kBlock;
  if (across < 1 || down < 1 || dark.width != bias.width || dark.height != bias.height)
    return Error(Code::kTooFew, "the darks are too small, or of another size than the bias");
  std::vector<double> blocks(static_cast<std::size_t>(across) * down), sums(blocks.size());
  NG_CHECK(parallel_for(ctx, static_cast<int>(blocks.size()), [&](int i) {
    std::vector<float> values;
    double sum = 0;
    const int x0 = i % across * kBlock, y0 = i / across * kBlock;
    for (int y = y0; y < y0 + kBlock; ++y)
      for (int x = x0; x < x0 + kBlock; ++x) {
        const float v = dark(x, y) - bias(x, y);
        if (!std::isfinite(v)) continue;
        values.push_back(v);
        sum += v;
      }
    const auto index = static_cast<std::size_t>(i);
    sums[index] = values.empty() ? 0 : sum / static_cast<double>(values.size());
    blocks[index] = values.empty() ? 0 : math::clipped_stats(values, kHot).mean;
  }));
  DarkLevel level;
  level.exposure_s = exposure_s;
  for (const double s : sums) level.mean += s / static_cast<double>(sums.size());
  std::vector<double> sorted = blocks;
  level.usual.value = math::median(std::span<double>(sorted));
  const double scatter = std::max(math::mad_sigma(std::span<double>(sorted), level.usual.value), 1e-9);
  level.usual.error = kMedianError * scatter / std::sqrt(static_cast<double>(blocks.size()));
  const auto brightest = std::max_element(blocks.begin(), blocks.end());
  const int at = static_cast<int>(brightest - blocks.begin());
  level.glow = *brightest - level.usual.value;
  level.glow_error = scatter;
  level.glow_x = at % across * kBlock + kBlock / 2;
  level.glow_y = at / across * kBlock + kBlock / 2;
  const double limit = level.usual.value + std::max(level.usual.value, kGlow * scatter);
  level.glowing_share =
      static_cast<double>(std::count_if(blocks.begin(), blocks.end(), [&](double b) { return b > limit; })) /
      static_cast<double>(blocks.size());
  return level;
}

std::optional<DarkRate> dark_rate(const std::vector<DarkLevel>& levels, double bias_error_adu) {
  std::vector<Point> points{{0, 0, std::max(bias_error_adu, 1e-9)}};
  for (const DarkLevel& l : levels)
    if (l.exposure_s > 0) points.push_back({l.exposure_s, l.usual.value, l.usual.error});
  if (points.size() < 2) return std::nullopt;
  const Line line = fit_line(points);
  return DarkRate{{line.slope.value, std::hypot(line.slope.error, kWarmShare * line.slope.value)}, line.chi2};
}

double law_rate(double energy_ev, double known_c, double known_e_s, double celsius) {
  const double t = celsius + kZeroC, t0 = known_c + kZeroC;
  return known_e_s * std::pow(t / t0, 1.5) * std::exp(energy_ev * (inverse_2kt(known_c) - inverse_2kt(celsius)));
}

std::optional<TemperatureLaw> temperature_law(const std::vector<RateAtTemperature>& rates) {
  double coldest = 1e9, warmest = -1e9;
  std::vector<RateAtTemperature> good;
  for (const RateAtTemperature& r : rates) {
    if (!(r.e_s.value > 0 && r.e_s.error < r.e_s.value)) continue;
    good.push_back(r);
    coldest = std::min(coldest, r.temperature_c);
    warmest = std::max(warmest, r.temperature_c);
  }
  if (good.size() < 2 || warmest - coldest < kLeastSpanC) return std::nullopt;
  TemperatureLaw law;
  law.middle_c = (coldest + warmest) / 2;
  const double middle_k = law.middle_c + kZeroC;
  // ln(D / T^1.5) is a straight line over 1 / 2kT; the middle is its origin.
  std::vector<Point> points;
  double w = 0;
  for (const RateAtTemperature& r : good) {
    const double error = std::max(r.e_s.error / r.e_s.value, 1e-4);
    points.push_back({inverse_2kt(law.middle_c) - inverse_2kt(r.temperature_c),
                      std::log(r.e_s.value) - 1.5 * std::log((r.temperature_c + kZeroC) / middle_k), error});
    w += 1 / (error * error);
  }
  const Line line = fit_line(points);
  if (!(line.slope.value > 0)) return std::nullopt;
  law.energy_ev = line.slope;
  law.reduced_chi2 = line.chi2;
  // d ln D / dT = 1.5 / T + E / 2kT^2
  const double per_ev = inverse_2kt(law.middle_c) / middle_k, rise = 1.5 / middle_k + law.energy_ev.value * per_ev;
  law.doubling_c = {std::numbers::ln2 / rise, std::numbers::ln2 / (rise * rise) * law.energy_ev.error * per_ev};
  law.e_s_there.value = std::exp(line.start);
  law.e_s_there.error = law.e_s_there.value * std::sqrt(std::max(1.0, line.chi2) / w);
  law.silicon_doubling_c =
      std::numbers::ln2 / std::log(rig::dark_current_ratio(law.middle_c + 0.5, law.middle_c - 0.5));
  return law;
}

}  // namespace ng::diagnose
