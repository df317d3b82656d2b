#include "measure/matched_filter.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>

#include "base/parallel.h"
#include "math/pick_above.h"
#include "math/weighted_rows.h"

namespace ng::measure {
namespace {

constexpr int kBandRows = 64;
constexpr float kFinite = std::numeric_limits<float>::max();

// Rows of a frame, correlated with the Gaussian and divided by the noise that white noise would have afterwards.
class Correlation {
 public:
  Correlation(View<const float> image, const BackgroundMap* background, double sigma_px, double noise_correlation)
      : image_(image), background_(background), horizontal_(gaussian_taps(sigma_px)), vertical_(horizontal_) {
    double squares = 0;
    for (const float w : horizontal_) squares += w * w;
    for (float& w : vertical_)
      w = static_cast<float>(w / (squares * noise_correlation));  // the noise of the 2-D filter is `squares`
  }

  // Calls use(significance along the row) for rows y0 ... y1 - 1.
  template <typename Use>
  void for_each_row(int y0, int y1, const Use& use) const {
    const auto width = static_cast<std::size_t>(image_.width);
    const std::size_t taps = horizontal_.size();
    const int radius = static_cast<int>(taps) / 2;
    std::vector<float> padded(width + taps - 1, 0.0f);  // beyond the border is sky
    std::vector<float> out(width);
    std::vector<const float*> shifted, rows(taps);
    for (std::size_t k = 0; k < taps; ++k) shifted.push_back(padded.data() + k);
    Image<float> filtered(image_.width, y1 - y0 + 2 * radius);
    for (int y = y0 - radius; y < y1 + radius; ++y) {
      if (y < 0 || y >= image_.height) {
        std::fill_n(filtered.plane().row(y - y0 + radius), image_.width, 0.0f);
        continue;
      }
      standardise(y, padded.data() + radius);
      math::sum_weighted_rows(shifted, horizontal_, image_.width, filtered.plane().row(y - y0 + radius));
    }
    for (int y = y0; y < y1; ++y) {
      for (std::size_t k = 0; k < taps; ++k) rows[k] = filtered.plane().row(y - y0 + static_cast<int>(k));
      math::sum_weighted_rows(rows, vertical_, image_.width, out.data());
      use(std::span<const float>(out));
    }
  }

 private:
  // One row in units of its noise above the sky; what is no number counts as sky.
  void standardise(int y, float* out) const {
    const float* in = image_.row(y);
    if (background_ != nullptr) {
      background_->standardise_row(y, in, 0, image_.width, out);
      in = out;
    }
    for (int x = 0; x < image_.width; ++x) out[x] = std::fabs(in[x]) <= kFinite ? in[x] : 0;
  }

  View<const float> image_;
  const BackgroundMap* background_;
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

int BrightPixels::row_of(std::size_t pixel) const {
  return static_cast<int>(std::upper_bound(row_begin.begin(), row_begin.end(), pixel) - row_begin.begin()) - 1;
}

Result<BrightPixels> significant_pixels(View<const float> image, const BackgroundMap* background, double sigma_px,
                                        double noise_correlation, float threshold, const Context& ctx) {
  const Correlation correlation(image, background, sigma_px, noise_correlation);
  const int bands = (image.height + kBandRows - 1) / kBandRows;
  std::vector<std::vector<BrightPixels::Pixel>> found(static_cast<std::size_t>(bands));
  std::vector<std::vector<std::size_t>> row_ends(found.size());  // within the band's pixels
  NG_CHECK(parallel_for(ctx, bands, [&](int band) {
    auto& pixels = found[static_cast<std::size_t>(band)];
    math::Picked picked;
    const int y0 = band * kBandRows;
    pixels.reserve(static_cast<std::size_t>(image.width) * kBandRows / 16);  // enough for most fields
    std::vector<std::size_t>& ends = row_ends[static_cast<std::size_t>(band)];
    correlation.for_each_row(y0, std::min(image.height, y0 + kBandRows), [&](std::span<const float> row) {
      math::pick_above(row.data(), image.width, threshold, picked);
      for (std::size_t k = 0; k < picked.at.size(); ++k) pixels.push_back({picked.at[k], picked.value[k]});
      ends.push_back(pixels.size());
    });
  }));

  BrightPixels bright;
  bright.row_begin.push_back(0);
  std::size_t total = 0;
  for (const auto& pixels : found) total += pixels.size();
  bright.pixels.reserve(total);
  for (std::size_t band = 0; band < found.size(); ++band) {
    for (const std::size_t end : row_ends[band]) bright.row_begin.push_back(bright.pixels.size() + end);
    bright.pixels.insert(bright.pixels.end(), found[band].begin(), found[band].end());
  }
  return bright;
}

}  // namespace ng::measure
