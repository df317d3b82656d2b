#include "measure/matched_filter.h"

#include <algorithm>
#include <cmath>

#include "base/parallel.h"

namespace ng::measure {
namespace {

constexpr int kBandRows = 64;

// One row: normalised, NaN as sky, correlated along x. `padded` holds width + 2 radius values.
void filter_row(View<const float> image, const BackgroundMap& background, int y, const std::vector<float>& taps,
                std::vector<float>& padded, std::vector<float>& level, std::vector<float>& noise, float* out) {
  const int radius = static_cast<int>(taps.size()) / 2;
  background.evaluate_row(y, level.data(), noise.data());
  const float* row = image.row(y);
  float* centre = padded.data() + radius;
  for (int x = 0; x < image.width; ++x) {
    const float v = (row[x] - level[static_cast<std::size_t>(x)]) / noise[static_cast<std::size_t>(x)];
    centre[x] = std::isfinite(v) ? v : 0;
  }
  std::fill_n(out, image.width, 0.0f);
  for (std::size_t k = 0; k < taps.size(); ++k) {
    const float w = taps[k];
    const float* in = padded.data() + k;
    for (int x = 0; x < image.width; ++x) out[x] += w * in[x];
  }
}

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
                                        float threshold, const Context& ctx) {
  const std::vector<float> taps = gaussian_taps(sigma_px);
  const int radius = static_cast<int>(taps.size()) / 2;
  double squares = 0;
  for (const float w : taps) squares += w * w;
  std::vector<float> vertical(taps);
  for (float& w : vertical) w = static_cast<float>(w / squares);  // the noise of the 2-D filter is `squares`

  const int bands = (image.height + kBandRows - 1) / kBandRows;
  std::vector<std::vector<BrightPixels::Pixel>> found(static_cast<std::size_t>(bands));
  NG_CHECK(parallel_for(ctx, bands, [&](int band) {
    const int y0 = band * kBandRows;
    const int y1 = std::min(image.height, y0 + kBandRows);
    std::vector<float> padded(static_cast<std::size_t>(image.width + 2 * radius), 0.0f);
    std::vector<float> level(static_cast<std::size_t>(image.width));
    std::vector<float> noise(static_cast<std::size_t>(image.width));
    std::vector<float> out(static_cast<std::size_t>(image.width));
    Image<float> rows(image.width, y1 - y0 + 2 * radius, 1, 0.0f);  // rows outside the frame count as sky
    const auto work = rows.plane();
    for (int y = std::max(0, y0 - radius); y < std::min(image.height, y1 + radius); ++y)
      filter_row(image, background, y, taps, padded, level, noise, work.row(y - y0 + radius));
    for (int y = y0; y < y1; ++y) {
      std::fill(out.begin(), out.end(), 0.0f);
      for (std::size_t k = 0; k < vertical.size(); ++k) {
        const float w = vertical[k];
        const float* in = work.row(y - y0 + static_cast<int>(k));
        for (std::size_t x = 0; x < out.size(); ++x) out[x] += w * in[x];
      }
      for (int x = 0; x < image.width; ++x) {
        const float v = out[static_cast<std::size_t>(x)];
        if (v > threshold) found[static_cast<std::size_t>(band)].push_back({x, y, v});
      }
    }
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
