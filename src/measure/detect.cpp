#include "measure/detect.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

#include "measure/basins.h"
#include "measure/matched_filter.h"

namespace ng::measure {
namespace {

// Detections that flow together.
class Merger {
 public:
  explicit Merger(std::vector<Detection> detections) : detections_(std::move(detections)) {
    for (std::size_t k = 0; k < detections_.size(); ++k) parent_.push_back(k);
  }
  std::size_t root(std::size_t k) {
    while (parent_[k] != k) k = parent_[k] = parent_[parent_[k]];
    return k;
  }
  void merge(std::size_t from, std::size_t into) {
    parent_[from] = into;
    detections_[into].area_px += detections_[from].area_px;
  }
  [[nodiscard]] const Detection& operator[](std::size_t k) const { return detections_[k]; }

  [[nodiscard]] std::vector<Detection> roots() const {
    std::vector<Detection> result;
    for (std::size_t k = 0; k < parent_.size(); ++k)
      if (parent_[k] == k) result.push_back(detections_[k]);
    return result;
  }

 private:
  std::vector<std::size_t> parent_;
  std::vector<Detection> detections_;
};

}  // namespace

Result<std::vector<Detection>> detect(View<const float> image, const BackgroundMap* background,
                                      const DetectOptions& options, const Context& ctx) {
  NG_TRY(const BrightPixels bright, significant_pixels(image, background, options.sigma_px, options.noise_correlation,
                                                       static_cast<float>(options.threshold), ctx));
  const Relief relief = find_basins(bright);

  // Photon noise of a source of filtered significance s, in units of the sky's: sqrt(1 + s k).
  double photon = 0;
  if (options.electrons_per_unit > 0) {
    double squares = 0;
    for (const float w : gaussian_taps(options.sigma_px)) squares += w * w;
    const double noise = background != nullptr ? static_cast<double>(background->median_noise()) : 1;
    photon = squares / (options.noise_correlation * noise * options.electrons_per_unit);
  }
  const auto stands_apart = [&](float peak, float saddle) {
    const double noise = std::sqrt(1 + photon * std::max(0.0f, saddle));
    return peak - saddle > std::max(options.dip_sigma * noise, options.dip_share * peak);
  };

  std::vector<Detection> peaks;
  for (const Basin& basin : relief.basins) {
    const BrightPixels::Pixel& p = bright.pixels[basin.peak];
    peaks.push_back({p.x, bright.row_of(basin.peak), p.value, basin.area_px});
  }
  Merger merger(std::move(peaks));
  for (const Saddle& saddle : relief.saddles) {
    const std::size_t a = merger.root(static_cast<std::size_t>(saddle.a));
    const std::size_t b = merger.root(static_cast<std::size_t>(saddle.b));
    if (a == b) continue;
    const bool a_is_lower = merger[a].significance < merger[b].significance;
    const std::size_t low = a_is_lower ? a : b;
    if (!stands_apart(merger[low].significance, saddle.height)) merger.merge(low, a_is_lower ? b : a);
  }
  auto detections = merger.roots();
  std::stable_sort(detections.begin(), detections.end(),
                   [](const Detection& a, const Detection& b) { return a.significance > b.significance; });
  return detections;
}

}  // namespace ng::measure
