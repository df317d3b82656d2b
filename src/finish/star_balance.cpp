#include "finish/star_balance.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "math/robust.h"

namespace ng::finish {
namespace {

struct Aperture {
  double radius;
  double ring_inner;
  double ring_outer;
};

struct Flux {
  double value;
  double error;
};

// Nothing when the ring leaves the image.
std::optional<Flux> measure(View<const float> image, double cx, double cy, const Aperture& aperture) {
  const int reach = static_cast<int>(std::ceil(aperture.ring_outer)) + 1;
  const int x0 = static_cast<int>(std::lround(cx));
  const int y0 = static_cast<int>(std::lround(cy));
  if (x0 < reach || y0 < reach || x0 + reach >= image.width || y0 + reach >= image.height) return std::nullopt;
  double sum = 0;
  int pixels = 0;
  std::vector<float> ring;
  for (int y = y0 - reach; y <= y0 + reach; ++y) {
    for (int x = x0 - reach; x <= x0 + reach; ++x) {
      const double r = std::hypot(x - cx, y - cy);
      if (r <= aperture.radius) {
        sum += static_cast<double>(image(x, y));
        ++pixels;
      } else if (r >= aperture.ring_inner && r <= aperture.ring_outer) {
        ring.push_back(image(x, y));
      }
    }
  }
  const float sky = math::median(ring);
  const double sigma = static_cast<double>(math::mad_sigma(ring, sky));
  return Flux{sum - pixels * static_cast<double>(sky), sigma * std::sqrt(pixels)};
}

struct Factor {
  double value;
  double error;
};

// The factor that brings the median of the logarithms of flux / green to zero.
Factor neutral_factor(std::vector<double> logs) {
  const double centre = math::median(std::span<double>(logs));
  const double n = static_cast<double>(logs.size());
  const double sigma = math::mad_sigma(std::span<double>(logs), centre);
  const double factor = std::exp(-centre);
  return {factor, factor * 1.2533 * sigma / std::sqrt(n)};
}

}  // namespace

ColourBalance balance_from_stars(std::array<View<const float>, 3> rgb, std::span<const Star> stars, double fwhm_px,
                                 const BalanceOptions& options) {
  const double radius = std::max(3.0, 1.5 * fwhm_px);
  const Aperture aperture{radius, radius + 2, radius + 6};
  std::vector<double> red;
  std::vector<double> blue;
  for (const Star& star : stars) {
    if (static_cast<int>(red.size()) >= options.max_stars) break;
    if (star.has(kStarSaturated) || star.has(kStarEdge) || star.has(kStarBlended) || star.has(kStarBadPixels)) continue;
    std::array<double, 3> flux{};
    bool good = true;
    for (std::size_t c = 0; c < 3 && good; ++c) {
      const auto measured = measure(rgb[c], star.x, star.y, aperture);
      good = measured && measured->value > options.min_snr * measured->error && measured->value > 0;
      if (good) flux[c] = measured->value;
    }
    if (!good) continue;
    red.push_back(std::log(flux[0] / flux[1]));
    blue.push_back(std::log(flux[2] / flux[1]));
  }
  ColourBalance balance;
  balance.stars = static_cast<int>(red.size());
  balance.doubtful = balance.stars < 10;
  if (balance.stars < 3) return balance;
  const Factor r = neutral_factor(std::move(red));
  const Factor b = neutral_factor(std::move(blue));
  balance.red_factor = r.value;
  balance.red_error = r.error;
  balance.blue_factor = b.value;
  balance.blue_error = b.error;
  return balance;
}

}  // namespace ng::finish
