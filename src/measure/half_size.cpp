#include "measure/half_size.h"

#include <algorithm>
#include <cassert>
#include <limits>

#include "base/parallel.h"
#include "math/half_rows.h"

namespace ng::measure {
namespace {

constexpr int kRowsAtOnce = 32;

// Of the four pixels under one of half size and their neighbours.
void go_to_highest(View<const float> image, Detection& d) {
  int x = 2 * d.x, y = 2 * d.y;
  float highest = -std::numeric_limits<float>::infinity();
  for (int py = std::max(0, 2 * d.y - 1); py <= std::min(image.height - 1, 2 * d.y + 2); ++py)
    for (int px = std::max(0, 2 * d.x - 1); px <= std::min(image.width - 1, 2 * d.x + 2); ++px)
      if (image(px, py) > highest) {
        highest = image(px, py);
        x = px;
        y = py;
      }
  d.x = x;
  d.y = y;
}

// The same sky at half size.
BackgroundMap at_half(const BackgroundMap& map) {
  BackgroundMap half{map.width / 2, map.height / 2, map.box_px / 2, map.level.clone(), map.noise.clone()};
  for (int y = 0; y < half.noise.height(); ++y)
    for (int x = 0; x < half.noise.width(); ++x) half.noise.plane()(x, y) /= 2;
  return half;
}

}  // namespace

Result<HalfSize> half_size(View<const float> image, const BackgroundMap& background, const Context& ctx) {
  assert(background.box_px % 2 == 0);
  const BackgroundMap sky = at_half(background);
  HalfSize half(image.width / 2, image.height / 2);
  NG_CHECK(parallel_for(ctx, (half.height() + kRowsAtOnce - 1) / kRowsAtOnce, [&](int k) {
    for (int y = k * kRowsAtOnce; y < std::min(half.height(), (k + 1) * kRowsAtOnce); ++y) {
      float* row = half.plane().row(y);
      math::half_rows(image.row(2 * y), image.row(2 * y + 1), half.width(), row);
      sky.standardise_row(y, row, 0, half.width(), row);
    }
  }));
  return half;
}

DetectOptions at_half_size(DetectOptions options, const BackgroundMap& background) {
  options.sigma_px /= 2;
  // A mean of four: the same value, four times the photons; the unit is half the noise of a pixel.
  options.electrons_per_unit *= 4 * static_cast<double>(background.median_noise()) / 2;
  return options;
}

std::vector<Detection> at_full_size(std::vector<Detection> detections, View<const float> image, std::size_t exact) {
  for (std::size_t i = 0; i < std::min(exact, detections.size()); ++i) go_to_highest(image, detections[i]);
  for (std::size_t i = exact; i < detections.size(); ++i) detections[i].x *= 2, detections[i].y *= 2;
  for (Detection& d : detections) d.area_px *= 4;
  return detections;
}

}  // namespace ng::measure
