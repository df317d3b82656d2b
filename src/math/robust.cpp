#include "math/robust.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>
#include <vector>

#include "math/sorted_window.h"
#include "math/sorting_network.h"

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

// Value below which `rank` of the values lie, when equal values are thought of as spread evenly over the step from the
// value before to the one after (quantile of grouped data).
float grouped_quantile(SortedWindow& values, std::size_t count, double rank) {
  const Ties t = values.at(std::min(static_cast<std::size_t>(rank), count - 1));
  const auto ties = static_cast<double>(t.count);
  // Nearly all values the same: what the others do says nothing about the step.
  if (ties > 0.8 * static_cast<double>(count)) return t.value;
  const float below = t.first == 0 ? 2 * t.value - t.above : t.below;
  const float above = t.first + t.count == count ? 2 * t.value - t.below : t.above;
  const float left = (below + t.value) / 2;
  const float right = (above + t.value) / 2;
  return left + (right - left) * static_cast<float>((rank - static_cast<double>(t.first)) / ties);
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
float median_of_few(std::span<const float> values) {
  assert(!values.empty() && values.size() <= 8);
  constexpr auto kNetwork = fixed_network<8>();
  std::array<float, 8> v;
  v.fill(std::numeric_limits<float>::infinity());
  std::copy(values.begin(), values.end(), v.begin());
  for (const auto& [low, high] : kNetwork) {
    const float least = std::min(v[low], v[high]);
    v[high] = std::max(v[low], v[high]);
    v[low] = least;
  }
  return 0.5f * (v[(values.size() - 1) / 2] + v[values.size() / 2]);
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

SkyLevel sky_level(std::span<const float> values) {
  SortedWindow window(values);
  SkyLevel sky;
  std::size_t n = values.size();  // the lowest n values are in
  for (int iteration = 0; iteration < 12; ++iteration) {
    const auto count = static_cast<double>(n);
    sky.level = grouped_quantile(window, values.size(), count / 2);
    // The lower half's absolute deviations have the median of a half normal.
    sky.sigma = static_cast<float>(kMadToSigma) * (sky.level - grouped_quantile(window, values.size(), count / 4));
    const std::size_t kept = std::min(n, window.count_up_to(sky.level + 3 * sky.sigma));
    // Pure noise loses 0.13 % above 3 sigma in the first round: not worth another.
    if (static_cast<double>(n - kept) < 0.002 * count) break;
    n = kept;
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
