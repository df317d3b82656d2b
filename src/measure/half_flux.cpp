#include "measure/half_flux.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "math/circle_overlap.h"

namespace ng::measure {
namespace {

constexpr double kHalfDiagonal = 0.70710678118654757;  // of a pixel: nearest and farthest corner

}  // namespace

double half_flux_radius(View<const float> image, double x, double y, double background, double total,
                        double max_radius) {
  struct Sample {
    double distance, dx, dy, value;
    double up_to = 0;  // sum of the values of all nearer samples
  };
  std::vector<Sample> samples;
  const int reach = static_cast<int>(std::ceil(max_radius)) + 1;
  const int cx = static_cast<int>(std::lround(x));
  const int cy = static_cast<int>(std::lround(y));
  samples.reserve(static_cast<std::size_t>((2 * reach + 1) * (2 * reach + 1)));
  for (int py = std::max(0, cy - reach); py <= std::min(image.height - 1, cy + reach); ++py) {
    for (int px = std::max(0, cx - reach); px <= std::min(image.width - 1, cx + reach); ++px) {
      const double value = image(px, py) - background;
      const double distance = std::sqrt((px - x) * (px - x) + (py - y) * (py - y));
      if (!std::isnan(value) && distance < max_radius + kHalfDiagonal)
        samples.push_back({distance, px - x, py - y, value});
    }
  }
  std::sort(samples.begin(), samples.end(), [](const Sample& a, const Sample& b) { return a.distance < b.distance; });
  double sum = 0;
  for (Sample& s : samples) {
    s.up_to = sum;
    sum += s.value;
  }
  // Only the pixels that the circle cuts need their share computed.
  const auto enclosed = [&](double radius) {
    auto s = std::partition_point(samples.begin(), samples.end(),
                                  [&](const Sample& q) { return q.distance <= radius - kHalfDiagonal; });
    double inside = s == samples.end() ? sum : s->up_to;
    for (; s != samples.end() && s->distance < radius + kHalfDiagonal; ++s)
      inside += s->value * math::circle_pixel_overlap(s->dx, s->dy, radius);
    return inside;
  };
  // From inside outwards until half is passed, then the chord of the curve, with the Illinois rule (Dowell & Jarratt
  // 1971, BIT 11, 168) so that both ends close in.
  double low = 0, low_excess = -total / 2;
  double high = 0.5, high_excess = enclosed(high) - total / 2;
  while (high_excess < 0) {
    low = high;
    low_excess = high_excess;
    high *= 1.5;
    if (high > max_radius) return 0;
    high_excess = enclosed(high) - total / 2;
  }
  double radius = high;
  for (int k = 0; k < 40 && high - low > 1e-4; ++k) {
    radius = high - high_excess * (high - low) / (high_excess - low_excess);
    const double excess = enclosed(radius) - total / 2;
    if (std::fabs(excess) < 1e-5 * total) break;
    if (excess < 0) {
      low = radius;
      low_excess = excess;
      high_excess /= 2;
    } else {
      high = radius;
      high_excess = excess;
      low_excess /= 2;
    }
  }
  return radius;
}

}  // namespace ng::measure
