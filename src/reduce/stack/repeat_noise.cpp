#include "reduce/stack/repeat_noise.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "base/parallel.h"
#include "math/robust.h"
#include "reduce/stack/light_on_master.h"
#include "reduce/stack/mesh_on_master.h"

namespace ng::reduce {
namespace {

constexpr std::size_t kPairs = 16;  // their ratios scatter by some 4 %
constexpr int kFewestStrips = 12, kMostStrips = 64;
// Neighbours share noise, so every third row is looked at, as many odd as even ones: in a mosaic they differ.
constexpr int kStripRows = 10, kEvery = 3, kRowsOfStrip = 4;
constexpr int kSamples = 400000;  // pixels that all pairs together offer, about

struct Pair {
  std::size_t first = 0, second = 0;
};

// Half of the frames lie between the two of a pair: by then the field has moved on the sensor, whose own pattern is
// noise to the mean of all. No frame comes twice, as its source serves one thread at a time.
std::vector<Pair> pairs_of(std::span<const int> groups) {
  std::map<int, std::vector<std::size_t>> members;
  for (std::size_t i = 0; i < groups.size(); ++i) members[groups[i]].push_back(i);
  std::vector<Pair> all;
  for (const auto& [group, frames] : members) {
    const std::size_t half = frames.size() / 2;
    for (std::size_t k = 0; k < half; ++k) all.push_back({frames[k], frames[k + half]});
  }
  std::vector<Pair> some;
  const std::size_t wanted = std::min(kPairs, all.size());
  for (std::size_t k = 0; k < wanted; ++k) some.push_back(all[k * all.size() / wanted]);
  return some;
}

class PairRows {
 public:
  PairRows(const StackFrame& a, const StackFrame& b, const StackOptions& options)
      : frames_{&a, &b},
        options_(options),
        rows_{LightRows(0, options.width, kStripRows, options.planes),
              LightRows(0, options.width, kStripRows, options.planes)},
        meshes_{variance_on_master(a, options.width, options.height, options.planes),
                variance_on_master(b, options.width, options.height, options.planes)},
        no_hits_(static_cast<std::size_t>(options.width / math::kHitPixels + 1)) {}

  Result<void> read(int top, const Context& ctx) {
    for (std::size_t k = 0; k < 2; ++k) {
      NG_CHECK(light_on_master(*frames_[k], meshes_[k], {top, kStripRows}, rows_[k], lanczos_, ctx));
    }
    top_ = top;
    return {};
  }

  NoiseCurve::Sample sample(const NoiseCurve& curve, int plane, int row) {
    const int width = options_.width;
    const auto p = static_cast<std::size_t>(plane);
    std::vector<math::CombineInput> inputs;
    for (const LightRows& rows : rows_)
      inputs.push_back({rows.values.plane(plane).row(row), rows.variance.plane(plane).row(row), 0, 1});
    std::vector<float> mean(static_cast<std::size_t>(width)), sky(mean.size(), 0.0f);
    for (int x = 0; x < width; ++x) mean[static_cast<std::size_t>(x)] = (inputs[0].values[x] + inputs[1].values[x]) / 2;
    if (!options_.sky[p].empty()) mesh_row(options_.sky[p], kMasterBoxPx, top_ + row, 0, width, sky.data());
    const std::array<math::HitWord*, 2> hits = {no_hits_.data(), no_hits_.data()};
    constexpr std::array<std::size_t, 2> kBoth = {0, 1};
    NoiseCurve::Sample sample;
    curve.sample({inputs, kBoth, hits, mean.data(), sky.data(), 0, width}, sample);
    return sample;
  }

 private:
  std::array<const StackFrame*, 2> frames_;
  const StackOptions& options_;
  const math::LanczosPolynomials lanczos_;
  std::array<LightRows, 2> rows_;
  std::array<VarianceMeshes, 2> meshes_;
  std::vector<math::HitWord> no_hits_;
  int top_ = 0;
};

// Noise over the stated one, per plane; 0 where too little is shared.
Result<std::array<double, 3>> noise_of(const StackFrame& a, const StackFrame& b, int samples,
                                       const StackOptions& options, const Context& ctx) {
  const auto planes = static_cast<std::size_t>(options.planes);
  std::vector<NoiseCurve> curves(planes, NoiseCurve(2));
  PairRows rows(a, b, options);
  const int most = std::clamp(options.height / kStripRows, 1, kMostStrips);
  const int strips =
      std::clamp(samples / std::max(1, kRowsOfStrip * options.width), std::min(kFewestStrips, most), most);
  for (int i = 0; i < strips; ++i) {
    const int top = static_cast<int>((i + 0.5) * options.height / strips) - kStripRows / 2;
    if (top < 0 || top + kStripRows > options.height) continue;
    NG_CHECK(rows.read(top, ctx));
    for (std::size_t p = 0; p < planes; ++p)
      for (int row = 0; row < kStripRows; row += kEvery)
        curves[p].add(rows.sample(curves[p], static_cast<int>(p), row));
  }
  std::array<double, 3> ratio{};
  for (std::size_t p = 0; p < planes; ++p) {
    const std::vector<NoisePoint> points = curves[p].points();
    if (!points.empty() && points.back().frames == 2) ratio[p] = points.back().noise / points.back().predicted;
  }
  return ratio;
}

}  // namespace

Result<std::array<double, 3>> repeat_noise(std::span<const StackFrame> frames, std::span<const int> groups,
                                           const StackOptions& options, const Context& ctx) {
  const std::vector<Pair> pairs = pairs_of(groups);
  std::vector<std::array<double, 3>> found(pairs.size());
  const int samples = kSamples / std::max(1, static_cast<int>(pairs.size()));
  NG_CHECK(parallel_for(ctx, static_cast<int>(pairs.size()), [&](int k) -> Result<void> {
    const auto i = static_cast<std::size_t>(k);
    NG_TRY(found[i], noise_of(frames[pairs[i].first], frames[pairs[i].second], samples, options, ctx.serial()));
    return {};
  }));
  std::array<double, 3> ratio = {1, 1, 1};
  for (std::size_t p = 0; p < 3; ++p) {
    std::vector<double> told;
    for (const auto& f : found)
      if (f[p] > 0) told.push_back(f[p]);
    if (!told.empty()) ratio[p] = math::median(std::span<double>(told));
  }
  return ratio;
}

}  // namespace ng::reduce
