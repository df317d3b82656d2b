#include "math/robust.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <vector>

namespace ng::math {
namespace {

template <typename T>
T median_of(std::span<T> v) {
  assert(!v.empty());
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  if (v.size() % 2 == 1) return *middle;
  return (*middle + *std::max_element(v.begin(), middle)) / 2;
}

template <typename T>
T mad_of(std::span<T> v, T centre) {
  for (T& x : v) x = std::fabs(x - centre);
  return static_cast<T>(kMadToSigma) * median_of(v);
}

}  // namespace

std::span<float> drop_nan(std::span<float> values) {
  const auto end = std::remove_if(values.begin(), values.end(), [](float x) { return !std::isfinite(x); });
  return values.first(static_cast<std::size_t>(end - values.begin()));
}

float median(std::span<float> values) {
  return median_of(values);
}
double median(std::span<double> values) {
  return median_of(values);
}
float mad_sigma(std::span<float> values, float centre) {
  return mad_of(values, centre);
}
double mad_sigma(std::span<double> values, double centre) {
  return mad_of(values, centre);
}

float quantile(std::span<float> values, double q) {
  assert(!values.empty() && q >= 0 && q <= 1);
  const double place = q * static_cast<double>(values.size() - 1);
  const auto low = static_cast<std::size_t>(place);
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(low), values.end());
  const float a = values[low];
  if (low + 1 >= values.size()) return a;
  const float b = *std::min_element(values.begin() + static_cast<std::ptrdiff_t>(low) + 1, values.end());
  return a + static_cast<float>(place - static_cast<double>(low)) * (b - a);
}

ClippedStats clipped_stats(std::span<float> values, double kappa, int max_iterations) {
  ClippedStats s;
  for (int iteration = 0; iteration <= max_iterations; ++iteration) {
    double sum = 0;
    for (const float x : values) sum += x;
    s.kept = values.size();
    s.mean = sum / static_cast<double>(s.kept);
    double squares = 0;
    for (const float x : values) squares += (x - s.mean) * (x - s.mean);
    s.sigma = std::sqrt(squares / static_cast<double>(s.kept));
    s.median = median(values);
    const double low = s.median - kappa * s.sigma;
    const double high = s.median + kappa * s.sigma;
    const auto end = std::partition(values.begin(), values.end(), [&](float x) { return x >= low && x <= high; });
    const auto kept = static_cast<std::size_t>(end - values.begin());
    if (kept == values.size() || kept == 0) break;
    values = values.first(kept);
  }
  return s;
}

SkyLevel sky_level(std::span<float> values) {
  SkyLevel sky;
  for (int iteration = 0; iteration < 12; ++iteration) {
    sky.level = median(values);
    // After median() the lower half stands in front; its absolute deviations have the median of a half normal.
    const std::span<float> below = values.first((values.size() + 1) / 2);
    std::vector<float> deviations(below.size());
    std::transform(below.begin(), below.end(), deviations.begin(), [&](float x) { return sky.level - x; });
    sky.sigma = static_cast<float>(kMadToSigma) * median(std::span<float>(deviations));
    const float limit = sky.level + 3 * sky.sigma;
    const auto end = std::partition(values.begin(), values.end(), [&](float x) { return x <= limit; });
    const auto kept = static_cast<std::size_t>(end - values.begin());
    // Pure noise loses 0.13 % above 3 sigma in the first round: not worth another.
    if (static_cast<double>(values.size() - kept) < 0.002 * static_cast<double>(values.size())) break;
    values = values.first(kept);
  }
  return sky;
}

double biweight_location(std::span<const double> values, double c) {
  std::vector<double> work(values.begin(), values.end());
  const double centre = median(std::span<double>(work));
  for (double& x : work) x = std::fabs(x - centre);
  const double mad = median(std::span<double>(work));
  if (mad == 0) return centre;
  double top = 0;
  double bottom = 0;
  for (const double x : values) {
    const double u = (x - centre) / (c * mad);
    if (std::fabs(u) >= 1) continue;
    const double w = (1 - u * u) * (1 - u * u);
    top += w * (x - centre);
    bottom += w;
  }
  return centre + top / bottom;
}

}  // namespace ng::math
