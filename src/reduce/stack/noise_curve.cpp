#include "reduce/stack/noise_curve.h"

#include <algorithm>
#include <cmath>

#include "math/robust.h"

namespace ng::reduce {
namespace {

constexpr double kClip = 4;            // sigma: of pure noise 6 in 100,000 lie beyond
constexpr int kStepX = 3;              // pixels between samples: neighbours share noise after the resampling
constexpr std::size_t kEnough = 1000;  // samples; 3 % of error for a robust scatter

bool is_hit(const math::HitWord* row, int x) {
  return ((row[x / math::kHitPixels] >> (x % math::kHitPixels)) & 1) != 0;
}

// Sums of some frames' values of one pixel.
struct Part {
  double weight = 0, value = 0, variance = 0;
  void add(double w, double y, double u) {
    weight += w;
    value += w * y;
    variance += w * w * u;
  }
  [[nodiscard]] double mean() const { return value / weight; }
  [[nodiscard]] double variance_of_mean() const { return variance / (weight * weight); }
};

}  // namespace

NoiseCurve::NoiseCurve(int frames) : frames_(frames) {
  if (frames < 2) return;
  // About six points for every factor of 10.
  for (double n = 1; n < frames; n = std::max(n + 1, std::round(n * 1.45))) counts_.push_back(static_cast<int>(n));
  counts_.push_back(frames);
  sum_.pulls.resize(counts_.size());
  sum_.predicted.resize(counts_.size());
}

void NoiseCurve::sample(const Stretch& row, Sample& sample) const {
  sample.pulls.resize(counts_.size());
  sample.predicted.resize(counts_.size());
  std::vector<Part> first(static_cast<std::size_t>(frames_) + 1);  // of the first j frames
  for (int x = (kStepX - row.x0 % kStepX) % kStepX; x < row.width; x += kStepX) {
    Part even, all;
    bool dark = std::isfinite(row.mean[x]);
    std::size_t told = 0;  // frames of which `first` knows
    for (std::size_t k = 0; k < row.inputs.size(); ++k) {
      const math::CombineInput& in = row.inputs[k];
      while (told <= row.frames[k]) first[told++] = all;
      if (std::isnan(in.values[x]) || is_hit(row.hits[k], x)) continue;
      dark = dark && row.mean[x] - row.sky[x] < kBareSky * std::sqrt(in.variance[x]);
      const double weight = in.weight * (in.fade != nullptr ? in.fade[x] : 1.0f);
      all.add(weight, in.values[x], in.variance[x]);
      if (row.frames[k] % 2 == 0) even.add(weight, in.values[x], in.variance[x]);
    }
    while (told < first.size()) first[told++] = all;
    if (!dark) continue;
    for (std::size_t k = 0; k < counts_.size(); ++k) {
      const bool whole = counts_[k] == frames_;
      const Part& a = whole ? even : first[static_cast<std::size_t>(counts_[k])];
      const Part b{all.weight - a.weight, all.value - a.value, all.variance - a.variance};
      if (!(a.weight > 0 && b.weight > 1e-6 * all.weight)) continue;
      sample.pulls[k].push_back(
          static_cast<float>((a.mean() - b.mean()) / std::sqrt(a.variance_of_mean() + b.variance_of_mean())));
      sample.predicted[k].push_back(static_cast<float>(std::sqrt((whole ? all : a).variance_of_mean())));
    }
  }
}

void NoiseCurve::add(Sample sample) {
  for (std::size_t k = 0; k < counts_.size(); ++k) {
    sum_.pulls[k].insert(sum_.pulls[k].end(), sample.pulls[k].begin(), sample.pulls[k].end());
    sum_.predicted[k].insert(sum_.predicted[k].end(), sample.predicted[k].begin(), sample.predicted[k].end());
  }
}

std::vector<NoisePoint> NoiseCurve::points() const {
  std::vector<NoisePoint> points;
  for (std::size_t k = 0; k < counts_.size(); ++k) {
    if (sum_.pulls[k].size() < kEnough) continue;
    std::vector<float> pulls = sum_.pulls[k], predicted = sum_.predicted[k];
    // Not the median deviation: where pixels are not equally noisy, as demosaiced ones, it is below their mean square.
    const double scatter = math::clipped_stats(std::span<float>(pulls), kClip).sigma;
    if (!(scatter > 0)) continue;  // frames that are copies of each other tell nothing
    const double noise = math::median(std::span<float>(predicted));
    points.push_back({counts_[k], scatter * noise, noise});
  }
  return points;
}

}  // namespace ng::reduce
