#include "finish/noise.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <utility>

#include "base/parallel.h"
#include "finish/sampling.h"
#include "finish/starlet.h"
#include "math/robust.h"

namespace ng::finish {
namespace {

constexpr int kBand = 32;

// Standard deviation of (fine - smooth) / sigma where the picture is dark.
double measure_response(View<const float> fine, View<const float> smooth, View<const float> variance, int scale) {
  struct Place {
    float brightness;
    float coefficient;
  };
  std::vector<Place> places;
  const int step = sample_step(fine.width, fine.height, 200000);
  for (int y = 0; y < fine.height; y += step) {
    for (int x = 0; x < fine.width; x += step) {
      const float sigma = std::sqrt(variance(x, y));
      if (sigma > 0) places.push_back({smooth(x, y) / sigma, (fine(x, y) - smooth(x, y)) / sigma});
    }
  }
  const double white = kStarletNoise[static_cast<std::size_t>(scale)];
  if (places.empty()) return white;
  const auto middle = places.begin() + static_cast<std::ptrdiff_t>(places.size() / 2);
  std::nth_element(places.begin(), middle, places.end(),
                   [](const Place& a, const Place& b) { return a.brightness < b.brightness; });
  std::vector<float> dark;
  std::transform(places.begin(), middle + 1, std::back_inserter(dark), [](const Place& p) { return p.coefficient; });
  const double measured = static_cast<double>(math::mad_sigma(dark, 0.0f));
  return std::clamp(measured, 0.2 * white, 5 * white);  // beyond: the variance map belongs to another image
}

struct Rows {
  View<const float> fine;
  View<const float> smooth;
  [[nodiscard]] int clamp(int y) const { return std::clamp(y, 0, fine.height - 1); }
};

// Adds what is to be taken away from one row.
void remove_row(const Rows& in, View<const float> variance, int y, double response, const NoiseOptions& options,
                std::vector<float>& energy, float* removed) {
  const int width = in.fine.width;
  std::fill(energy.begin(), energy.end(), 0.0f);
  for (int dy = -1; dy <= 1; ++dy) {
    const float* fine = in.fine.row(in.clamp(y + dy));
    const float* smooth = in.smooth.row(in.clamp(y + dy));
    for (int x = 0; x < width; ++x)
      energy[static_cast<std::size_t>(x) + 1] += (fine[x] - smooth[x]) * (fine[x] - smooth[x]);
  }
  energy.front() = energy[1];
  energy.back() = energy[static_cast<std::size_t>(width)];
  const float* fine = in.fine.row(y);
  const float* smooth = in.smooth.row(y);
  const float* var = variance.row(y);
  const auto k2 = static_cast<float>(9 * std::pow(options.threshold_sigma * response, 2));
  const auto strength = static_cast<float>(options.strength);
  const auto limit = static_cast<float>(1 / options.snr_limit);
  constexpr float kTiny = 1e-30f;
  for (int x = 0; x < width; ++x) {
    const float* e = &energy[static_cast<std::size_t>(x)];
    const float noise_share = std::min(1.0f, k2 * var[x] / (e[0] + e[1] + e[2] + kTiny));
    const float snr = std::max(0.0f, smooth[x]) / std::sqrt(var[x] + kTiny);
    const float fade = std::max(0.0f, 1 - snr * limit * snr * limit);
    removed[x] += strength * fade * noise_share * (fine[x] - smooth[x]);
  }
}

}  // namespace

Result<NoiseReport> reduce_noise(View<float> image, View<const float> variance, const NoiseOptions& options,
                                 NoiseScratch& scratch, const Context& ctx) {
  assert(image.width == variance.width && image.height == variance.height);
  assert(options.scales >= 1 && options.scales <= kMaxStarletScales);
  NoiseReport report;
  if (scratch.fine.width() != image.width || scratch.fine.height() != image.height)
    for (Image<float>* plane : {&scratch.fine, &scratch.smooth, &scratch.work, &scratch.removed})
      *plane = Image<float>(image.width, image.height);
  const View<float> removed = scratch.removed.plane();
  const int bands = (image.height + kBand - 1) / kBand;
  for (int scale = 0; scale < options.scales; ++scale) {
    const View<const float> current = scale == 0 ? image : scratch.fine.plane();
    const View<float> smooth = scratch.smooth.plane();
    NG_CHECK(starlet_smooth(current, scale, smooth, scratch.work.plane(), ctx));
    const double response = measure_response(current, smooth, variance, scale);
    report.response.push_back(response);
    NG_CHECK(parallel_for(ctx, bands, [&](int band) {
      std::vector<float> energy(static_cast<std::size_t>(image.width) + 2);
      for (int y = band * kBand; y < std::min(image.height, (band + 1) * kBand); ++y) {
        if (scale == 0) std::fill_n(removed.row(y), image.width, 0.0f);
        remove_row({current, smooth}, variance, y, response, options, energy, removed.row(y));
      }
    }));
    std::swap(scratch.fine, scratch.smooth);
  }
  NG_CHECK(parallel_for(ctx, image.height, [&](int y) {
    float* row = image.row(y);
    const float* away = removed.row(y);
    for (int x = 0; x < image.width; ++x) row[x] -= away[x];
  }));
  return report;
}

}  // namespace ng::finish
