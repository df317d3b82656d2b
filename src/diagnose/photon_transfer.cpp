#include "diagnose/photon_transfer.h"

#include <algorithm>
#include <cmath>
#include <map>

namespace ng::diagnose {
namespace {

constexpr double kFitUpTo = 0.7;      // of saturation (EMVA 1288)
constexpr double kStandsStill = 0.5;  // a variance below this share of the expected one is that of full pixels
constexpr double kRoundingRules = 0.24, kHiddenByRounding = 0.40;
constexpr double kLinearFrom = 0.05, kLinearTo = 0.95;
constexpr std::size_t kFewestSteps = 4;

struct Slope {
  double k = 0, error = 0, chi2 = 0;
  int points = 0;
};

Slope fit_slope(const std::vector<TransferPoint>& points, const std::vector<bool>& used, const DarkNoise& dark) {
  double wxx = 0, wxy = 0;
  Slope s;
  const auto weight = [&](const TransferPoint& p) {
    // Variance of a variance of n normal values: 2 sigma^4 / n.
    const double own = 2 * p.variance_adu2 * p.variance_adu2 / static_cast<double>(p.pixels);
    return 1 / (own + dark.error_adu2 * dark.error_adu2);
  };
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!used[i]) continue;
    const TransferPoint& p = points[i];
    wxx += weight(p) * p.signal_adu * p.signal_adu;
    wxy += weight(p) * p.signal_adu * (p.variance_adu2 - dark.variance_adu2);
    ++s.points;
  }
  if (s.points == 0 || !(wxy > 0)) return {};
  s.k = wxy / wxx;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!used[i]) continue;
    const double off = points[i].variance_adu2 - dark.variance_adu2 - s.k * points[i].signal_adu;
    s.chi2 += weight(points[i]) * off * off;
  }
  s.chi2 = s.points > 1 ? s.chi2 / (s.points - 1) : 1;
  s.error = std::sqrt(std::max(1.0, s.chi2) / wxx);
  return s;
}

}  // namespace

std::optional<TransferFit> fit_transfer(const std::vector<TransferPoint>& points, const DarkNoise& dark) {
  if (points.empty()) return std::nullopt;
  TransferFit fit;
  const auto noisiest = std::max_element(points.begin(), points.end(), [](const auto& a, const auto& b) {
    return a.centre_variance_adu2 < b.centre_variance_adu2;
  });
  double highest = 0;
  for (const TransferPoint& p : points) {
    highest = std::max(highest, p.centre_adu);
    // Beyond the noisiest level the variance falls away.
    if (p.centre_adu > noisiest->centre_adu &&
        p.centre_variance_adu2 - dark.variance_adu2 < kStandsStill * noisiest->centre_variance_adu2)
      fit.saturated = true;
  }
  fit.saturation_adu = fit.saturated ? noisiest->centre_adu : highest;

  fit.used.resize(points.size());
  const auto choose = [&](double share) {
    int count = 0;
    for (std::size_t i = 0; i < points.size(); ++i) {
      fit.used[i] = points[i].signal_adu > 0 && points[i].centre_adu <= share * fit.saturation_adu;
      count += fit.used[i] ? 1 : 0;
    }
    return count;
  };
  if (choose(kFitUpTo) < 2 && !fit.saturated) choose(1);  // a short ladder that stays low: all of it
  const Slope slope = fit_slope(points, fit.used, dark);
  if (!(slope.k > 0)) return std::nullopt;
  fit.gain_e_adu = {1 / slope.k, slope.error / (slope.k * slope.k)};
  fit.reduced_chi2 = slope.chi2;
  for (const TransferPoint& p : points) {
    const double expected = slope.k * p.centre_adu;
    if (p.centre_adu >= fit.saturation_adu && p.centre_variance_adu2 - dark.variance_adu2 < kStandsStill * expected)
      fit.ceiling_adu = std::max(fit.ceiling_adu.value_or(0), p.centre_adu);
  }
  return fit;
}

ReadNoise read_noise(const DarkNoise& dark, const Measured& gain) {
  const double step2 = dark.step_adu * dark.step_adu;
  if (dark.variance_adu2 < kRoundingRules * step2)
    return {{kHiddenByRounding * dark.step_adu * gain.value, kHiddenByRounding * dark.step_adu * gain.error}, true};
  const double adu = std::sqrt(dark.variance_adu2 - step2 / 12);
  const double error_adu = dark.error_adu2 / (2 * adu);
  return {{adu * gain.value, std::hypot(error_adu * gain.value, adu * gain.error)}, false};
}

std::optional<Linearity> linearity(const std::vector<TransferPoint>& points, double saturation_adu) {
  struct Step {
    double sum = 0;
    int pairs = 0;
  };
  std::map<double, Step> steps;  // by exposure
  Linearity result;
  double lamp2 = 0;
  int pairs = 0;
  for (const TransferPoint& p : points) {
    if (p.centre_adu < kLinearFrom * saturation_adu || p.centre_adu > kLinearTo * saturation_adu) continue;
    Step& step = steps[p.exposure_s];
    step.sum += p.level_adu;
    ++step.pairs;
    lamp2 += std::log(p.ratio) * std::log(p.ratio) / 2;
    ++pairs;
  }
  if (steps.size() < kFewestSteps) return std::nullopt;
  // Weights 1 / level^2: relative deviations count alike.
  double w = 0, wx = 0, wy = 0, wxx = 0, wxy = 0;
  for (const auto& [x, step] : steps) {
    const double y = step.sum / step.pairs, weight = 1 / (y * y);
    w += weight;
    wx += weight * x;
    wy += weight * y;
    wxx += weight * x * x;
    wxy += weight * x * y;
  }
  const double slope = (w * wxy - wx * wy) / (w * wxx - wx * wx), start = (wy - slope * wx) / w;
  for (const auto& [x, step] : steps) {
    const double line = start + slope * x, off = 100 * (step.sum / step.pairs / line - 1);
    result.exposure_s.push_back(x);
    result.deviation_percent.push_back(off);
    result.mean_percent += std::fabs(off) / static_cast<double>(steps.size());
    result.worst_percent = std::max(result.worst_percent, std::fabs(off));
  }
  result.steps = static_cast<int>(steps.size());
  result.lamp_percent = 100 * std::sqrt(lamp2 / pairs);
  return result;
}

double threshold_e(double dark_noise_e) {
  return dark_noise_e + 0.5;
}

double dynamic_range(double saturation_e, double dark_noise_e) {
  return saturation_e / threshold_e(dark_noise_e);
}

}  // namespace ng::diagnose
