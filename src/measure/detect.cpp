#include "measure/detect.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

#include "base/parallel.h"
#include "measure/matched_filter.h"

namespace ng::measure {
namespace {

struct Pixel {
  float value;
  int x, y;
};

// All pixels above the threshold, highest first; ties in order of place, so that the result does not depend on the
// pool.
Result<std::vector<Pixel>> pixels_above(const Image<float>& map, float threshold, const Context& ctx) {
  constexpr int kRows = 64;
  const int bands = (map.height() + kRows - 1) / kRows;
  std::vector<std::vector<Pixel>> found(static_cast<std::size_t>(bands));
  NG_CHECK(parallel_for(ctx, bands, [&](int band) {
    for (int y = band * kRows; y < std::min(map.height(), (band + 1) * kRows); ++y) {
      const float* row = map.plane().row(y);
      for (int x = 0; x < map.width(); ++x)
        if (row[x] > threshold) found[static_cast<std::size_t>(band)].push_back({row[x], x, y});
    }
  }));
  std::vector<Pixel> pixels;
  for (const auto& band : found) pixels.insert(pixels.end(), band.begin(), band.end());
  std::stable_sort(pixels.begin(), pixels.end(), [](const Pixel& a, const Pixel& b) { return a.value > b.value; });
  return pixels;
}

// Basins that flow together as the level sinks; number 0 means "none".
class Basins {
 public:
  int add(const Pixel& peak) {
    parent_.push_back(static_cast<std::int32_t>(parent_.size()));
    found_.push_back({peak.x, peak.y, peak.value, 1});
    return static_cast<int>(parent_.size());
  }
  int root(int k) {
    while (parent_[index(k)] + 1 != k) {
      parent_[index(k)] = parent_[static_cast<std::size_t>(parent_[index(k)])];
      k = parent_[index(k)] + 1;
    }
    return k;
  }
  void merge(int from, int into) {
    parent_[index(from)] = static_cast<std::int32_t>(into - 1);
    found_[index(into)].area_px += found_[index(from)].area_px;
  }
  Detection& operator[](int k) { return found_[index(k)]; }

  std::vector<Detection> roots() const {
    std::vector<Detection> result;
    for (std::size_t k = 0; k < parent_.size(); ++k)
      if (parent_[k] == static_cast<std::int32_t>(k)) result.push_back(found_[k]);
    return result;
  }

 private:
  static std::size_t index(int k) { return static_cast<std::size_t>(k - 1); }
  std::vector<std::int32_t> parent_;
  std::vector<Detection> found_;
};

}  // namespace

Result<std::vector<Detection>> detect(View<const float> image, const BackgroundMap& background,
                                      const DetectOptions& options, const Context& ctx) {
  NG_TRY(const Image<float> map, significance_map(image, background, options.sigma_px, ctx));
  NG_TRY(const std::vector<Pixel> pixels, pixels_above(map, static_cast<float>(options.threshold), ctx));

  // Photon noise of a source of filtered significance s, in units of the sky's: sqrt(1 + s k).
  double photon = 0;
  if (options.electrons_per_unit > 0) {
    double squares = 0;
    for (const float w : gaussian_taps(options.sigma_px)) squares += w * w;
    photon = squares / (background.median_noise() * options.electrons_per_unit);
  }
  const auto stands_apart = [&](float peak, float saddle) {
    const double noise = std::sqrt(1 + photon * std::max(0.0f, saddle));
    return peak - saddle > std::max(options.dip_sigma * noise, options.dip_share * peak);
  };

  Image<std::int32_t> label(image.width, image.height, 1, 0);
  const auto labels = label.plane();
  Basins basins;
  for (const Pixel& p : pixels) {
    int home = 0;
    for (int dy = -1; dy <= 1; ++dy) {
      for (int dx = -1; dx <= 1; ++dx) {
        const int x = p.x + dx;
        const int y = p.y + dy;
        if (x < 0 || y < 0 || x >= image.width || y >= image.height || labels(x, y) == 0) continue;
        const int other = basins.root(labels(x, y));
        if (home == 0) {
          home = other;
        } else if (other != home) {
          const bool home_is_higher = basins[home].significance >= basins[other].significance;
          const int high = home_is_higher ? home : other;
          const int low = home_is_higher ? other : home;
          if (!stands_apart(basins[low].significance, p.value)) basins.merge(low, high);
          home = high;
        }
      }
    }
    if (home == 0) {
      labels(p.x, p.y) = basins.add(p);
    } else {
      labels(p.x, p.y) = home;
      ++basins[home].area_px;
    }
  }
  auto detections = basins.roots();
  std::stable_sort(detections.begin(), detections.end(),
                   [](const Detection& a, const Detection& b) { return a.significance > b.significance; });
  return detections;
}

}  // namespace ng::measure
