// math/combine_slow.h - the rules of combine.h written plainly, one pixel at a time. For tests only.
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <vector>

#include "math/combine.h"

namespace ng::math::slow {

inline float median(std::vector<float> v) {
  std::erase_if(v, [](float x) { return std::isnan(x); });
  if (v.empty()) return std::numeric_limits<float>::quiet_NaN();
  std::sort(v.begin(), v.end());
  const std::size_t n = v.size();
  return (v[(n - 1) / 2] + v[n / 2]) * 0.5f;
}

struct Pixel {
  double mean, variance, coverage;
  int rejected;
  std::vector<bool> hit;  // per input
};

inline Pixel combine(std::span<const CombineInput> inputs, std::span<const float> coverage_of, int x, double centre,
                     double sky, double slope, const CombineOptions& o, const std::vector<bool>& near = {}) {
  double n = 0;
  double sky_sum = 0;
  for (const auto& in : inputs) {
    if (std::isnan(in.values[x])) continue;
    n += 1;
    sky_sum += in.variance[x];
  }
  double centre_variance = 1.5707963 * sky_sum / (n * n);
  Pixel p{};
  for (int pass = 0; pass < 2; ++pass) {
    double weight = 0, sum = 0, variance = 0, sky_variance = 0;
    p = {0, 0, 0, 0, std::vector<bool>(inputs.size())};
    for (std::size_t j = 0; j < inputs.size(); ++j) {
      const auto& in = inputs[j];
      const double y = in.values[x];
      if (std::isnan(y)) continue;
      const double u = in.variance[x] * (1 + in.signal_share * std::max(centre - sky, 0.0));
      const double kappa = o.kappa * (!near.empty() && near[j] ? o.near_share : 1);
      const double allowed = kappa * kappa * (u + centre_variance + std::pow(o.slope_allowance * slope, 2));
      if (n >= 3 && (y - centre) * (y - centre) > allowed) {
        ++p.rejected;
        p.hit[j] = true;
        continue;
      }
      const double w = in.weight * (in.fade != nullptr ? in.fade[x] : 1.0f);
      weight += w;
      sum += w * y;
      variance += w * w * u;
      sky_variance += w * w * in.variance[x];
      p.coverage += coverage_of[j];
    }
    p.mean = weight > 0 ? sum / weight : std::numeric_limits<double>::quiet_NaN();
    p.variance = weight > 0 ? variance / (weight * weight) : std::numeric_limits<double>::quiet_NaN();
    if (weight > 0) centre = p.mean;
    centre_variance = weight > 0 ? sky_variance / (weight * weight) : centre_variance;
  }
  return p;
}

}  // namespace ng::math::slow
