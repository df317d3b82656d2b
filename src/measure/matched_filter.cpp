#include "measure/matched_filter.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>

#include "base/parallel.h"
#include "math/weighted_rows.h"

namespace ng::measure {
namespace {

constexpr int kBandRows = 64;
constexpr float kFinite = std::numeric_limits<float>::max();

// Rows of a frame, correlated with the Gaussian and divided by the noise that white noise would have afterwards.
class Correlation {
 public:
  Correlation(View<const float> image, const BackgroundMap& background, double sigma_px, double noise_correlation)
      : image_(image), background_(background), horizontal_(gaussian_taps(sigma_px)), vertical_(horizontal_) {
    double squares = 0;
    for (const float w : horizontal_) squares += w * w;
    for (float& w : vertical_)
      w = static_cast<float>(w / (squares * noise_correlation));  // the noise of the 2-D filter is `squares`
  }

  // Calls use(y, significance along the row) for rows y0 ... y1 - 1.
  template <typename Use>
  void for_each_row(int y0, int y1, const Use& use) const {
    const auto width = static_cast<std::size_t>(image_.width);
    const std::size_t taps = horizontal_.size();
    const int radius = static_cast<int>(taps) / 2;
    std::vector<float> padded(width + taps - 1, 0.0f);  // beyond the border is sky
    std::vector<float> level(width), noise(width), out(width);
    std::vector<const float*> shifted, rows(taps);
    for (std::size_t k = 0; k < taps; ++k) shifted.push_back(padded.data() + k);
    Image<float> filtered(image_.width, y1 - y0 + 2 * radius, 1, 0.0f);
    for (int y = std::max(0, y0 - radius); y < std::min(image_.height, y1 + radius); ++y) {
      normalise(y, level, noise, padded.data() + radius);
      math::sum_weighted_rows(shifted, horizontal_, image_.width, filtered.plane().row(y - y0 + radius));
    }
    for (int y = y0; y < y1; ++y) {
      for (std::size_t k = 0; k < taps; ++k) rows[k] = filtered.plane().row(y - y0 + static_cast<int>(k));
      math::sum_weighted_rows(rows, vertical_, image_.width, out.data());
      use(y, std::span<float>(out));
    }
  }

 private:
  // One row in units of its noise above the sky; NaN counts as sky.
  void normalise(int y, std::vector<float>& level, std::vector<float>& noise, float* out) const {
    background_.evaluate_row(y, level.data(), noise.data());
    const float* row = image_.row(y);
    const float* sky = level.data();
    const float* sigma = noise.data();
    for (int x = 0; x < image_.width; ++x) {
      const float v = (row[x] - sky[x]) / sigma[x];
      out[x] = std::fabs(v) <= kFinite ? v : 0;
    }
  }

  View<const float> image_;
  const BackgroundMap& background_;
  std::vector<float> horizontal_, vertical_;
};

}  // namespace

std::vector<float> gaussian_taps(double sigma_px) {
  const int radius = std::max(1, static_cast<int>(std::ceil(3 * sigma_px)));
  std::vector<float> taps;
  double sum = 0;
  for (int k = -radius; k <= radius; ++k) sum += std::exp(-0.5 * k * k / (sigma_px * sigma_px));
  for (int k = -radius; k <= radius; ++k)
    taps.push_back(static_cast<float>(std::exp(-0.5 * k * k / (sigma_px * sigma_px)) / sum));
  return taps;
}

Result<BrightPixels> significant_pixels(View<const float> image, const BackgroundMap& background, double sigma_px,
                                        double noise_correlation, float threshold, const Context& ctx) {
  const Correlation correlation(image, background, sigma_px, noise_correlation);
  const int bands = (image.height + kBandRows - 1) / kBandRows;
  std::vector<std::vector<BrightPixels::Pixel>> found(static_cast<std::size_t>(bands));
  NG_CHECK(parallel_for(ctx, bands, [&](int band) {
    auto& pixels = found[static_cast<std::size_t>(band)];
    const int y0 = band * kBandRows;
    correlation.for_each_row(y0, std::min(image.height, y0 + kBandRows), [&](int y, std::span<const float> row) {
      for (std::size_t x = 0; x < row.size(); ++x)
        if (row[x] > threshold) pixels.push_back({static_cast<std::int32_t>(x), y, row[x]});
    });
  }));

  BrightPixels bright;
  bright.row_begin.assign(static_cast<std::size_t>(image.height) + 1, 0);
  for (const auto& band : found) {
    for (const BrightPixels::Pixel& p : band) ++bright.row_begin[static_cast<std::size_t>(p.y) + 1];
    bright.pixels.insert(bright.pixels.end(), band.begin(), band.end());
  }
  for (std::size_t y = 1; y < bright.row_begin.size(); ++y) bright.row_begin[y] += bright.row_begin[y - 1];
  return bright;
}

}  // namespace ng::measure
