#include "diagnose/dark_drift.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "diagnose/dark_current.h"
#include "math/robust.h"
#include "math/sampled.h"

namespace ng::diagnose {
namespace {

constexpr double kHotSigma = 12;     // as reduce/single/defects.h
constexpr double kChangeSigma = 6;   // of the noise of the two means: a pixel really changed
constexpr double kLevelShare = 0.1;  // of the scatter of one dark
constexpr double kHotShare = 0.1;    // of the hot pixels
constexpr double kDriftSigma = 5, kScaleSigma = 3, kScaleShare = 0.05;
constexpr std::int64_t kFewestHot = 20;

struct Limits {
  float median = 0, hot = 0;
};
Limits limits_of(View<const float> mean) {
  std::vector<float> values = math::sampled(mean);
  if (values.empty()) return {};
  const float median = math::median(std::span<float>(values));
  return {median, median + static_cast<float>(kHotSigma) * math::mad_sigma(std::span<float>(values), median)};
}

// Temporal, of one frame: from the median of the squared deviations, so that hot pixels do not count.
double temporal_noise(const FrameStack& stack) {
  std::vector<float> squares = math::sampled(stack.squares());
  const double n = stack.count() - 1;
  // Median of chi-square with n degrees of freedom (Wilson & Hilferty 1931): n (1 - 2 / (9 n))^3.
  return std::sqrt(math::median(std::span<float>(squares)) / (n * std::pow(1 - 2 / (9 * n), 3)));
}

Result<void> same_size(const FrameStack& a, const FrameStack& b) {
  if (a.mean().width != b.mean().width || a.mean().height != b.mean().height)
    return Error(Code::kNoMatch, "the two sets differ in size");
  return {};
}

}  // namespace

Result<DarkDrift> dark_drift(const FrameStack& old_set, const FrameStack& new_set, const Context& ctx) {
  if (old_set.count() < 2 || new_set.count() < 2) return Error(Code::kTooFew, "two darks of each set are needed");
  NG_CHECK(same_size(old_set, new_set));
  NG_TRY(const DarkLevel level, dark_level(new_set.mean(), old_set.mean(), 1, ctx));
  DarkDrift d;
  d.level_adu = level.usual;
  d.scatter_adu = temporal_noise(new_set);
  const double before = temporal_noise(old_set);
  const double noise = std::sqrt(before * before / old_set.count() + d.scatter_adu * d.scatter_adu / new_set.count());
  const View<const float> a = old_set.mean(), b = new_set.mean();
  const Limits la = limits_of(a), lb = limits_of(b);
  for (int y = 0; y < a.height; ++y)
    for (int x = 0; x < a.width; ++x) {
      const bool was = a(x, y) > la.hot, is = b(x, y) > lb.hot;
      d.hot_old += was ? 1 : 0;
      d.hot_new += is ? 1 : 0;
      const double va = a(x, y) - la.median, vb = b(x, y) - lb.median;
      // Photons of the pixel's own dark current scatter too: a change counts when it is a quarter of it as well.
      if (was != is && std::fabs(va - vb) > kChangeSigma * noise + 0.25 * std::max(va, vb)) ++d.hot_changed;
    }
  const bool level_moved = std::fabs(d.level_adu.value) > kDriftSigma * d.level_adu.error &&
                           std::fabs(d.level_adu.value) > kLevelShare * d.scatter_adu;
  const std::int64_t most = std::max(d.hot_old, d.hot_new);
  const bool map_moved =
      most >= kFewestHot && static_cast<double>(d.hot_changed) > kHotShare * static_cast<double>(most);
  d.drifted = level_moved || map_moved;
  return d;
}

Result<DarkScaling> dark_scaling(const FrameStack& bias, const FrameStack& short_set, double short_s,
                                 const FrameStack& long_set, double long_s, const Context& ctx) {
  NG_CHECK(same_size(bias, short_set));
  NG_CHECK(same_size(bias, long_set));
  NG_TRY(const DarkLevel brief, dark_level(short_set.mean(), bias.mean(), short_s, ctx));
  NG_TRY(const DarkLevel lengthy, dark_level(long_set.mean(), bias.mean(), long_s, ctx));
  DarkScaling s;
  s.expected = short_s / long_s;
  if (lengthy.usual.value > kDriftSigma * lengthy.usual.error) {
    s.usual.value = brief.usual.value / lengthy.usual.value;
    s.usual.error = std::hypot(brief.usual.error, s.usual.value * lengthy.usual.error) / lengthy.usual.value;
  }
  const Limits limits = limits_of(long_set.mean());
  std::vector<double> ratios;
  for (int y = 0; y < bias.mean().height; ++y)
    for (int x = 0; x < bias.mean().width; ++x) {
      if (!(long_set.mean()(x, y) > limits.hot)) continue;
      ratios.push_back((short_set.mean()(x, y) - bias.mean()(x, y)) / (long_set.mean()(x, y) - bias.mean()(x, y)));
    }
  if (static_cast<std::int64_t>(ratios.size()) < kFewestHot || s.usual.error <= 0)
    return Error(Code::kTooFew, "the darks show too little dark current to tell whether it scales");
  s.hot.value = math::median(std::span<double>(ratios));
  s.hot.error = 1.2533141373155001 * math::mad_sigma(std::span<double>(ratios), s.hot.value) /
                std::sqrt(static_cast<double>(ratios.size()));
  const auto fits = [&](const Measured& m) {
    return std::fabs(m.value - s.expected) <= kScaleSigma * m.error + kScaleShare * s.expected &&
           m.error < kScaleShare * s.expected;
  };
  s.valid = fits(s.usual) && fits(s.hot);
  return s;
}

}  // namespace ng::diagnose
