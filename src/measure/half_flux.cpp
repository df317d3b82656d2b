#include "measure/half_flux.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "math/circle_overlap.h"

namespace ng::measure {

double half_flux_radius(View<const float> image, double x, double y, double background, double total,
                        double max_radius) {
  struct Sample {
    double dx, dy, value;
  };
  std::vector<Sample> samples;
  const int reach = static_cast<int>(std::ceil(max_radius)) + 1;
  const int cx = static_cast<int>(std::lround(x));
  const int cy = static_cast<int>(std::lround(y));
  for (int py = std::max(0, cy - reach); py <= std::min(image.height - 1, cy + reach); ++py) {
    for (int px = std::max(0, cx - reach); px <= std::min(image.width - 1, cx + reach); ++px) {
      const double value = image(px, py) - background;
      if (!std::isnan(value)) samples.push_back({px - x, py - y, value});
    }
  }
  const auto enclosed = [&](double radius) {
    double sum = 0;
    for (const Sample& s : samples) sum += s.value * math::circle_pixel_overlap(s.dx, s.dy, radius);
    return sum;
  };
  double low = 0;
  double high = 0.5;
  while (enclosed(high) < total / 2) {
    low = high;
    high *= 1.5;
    if (high > max_radius) return 0;
  }
  for (int k = 0; k < 14; ++k) {
    const double middle = (low + high) / 2;
    (enclosed(middle) < total / 2 ? low : high) = middle;
  }
  return (low + high) / 2;
}

}  // namespace ng::measure
