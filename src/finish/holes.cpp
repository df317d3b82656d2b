#include "finish/holes.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace ng::finish {
namespace {

constexpr float kNan = std::numeric_limits<float>::quiet_NaN();

int count_holes(View<const float> image) {
  int holes = 0;
  for (int y = 0; y < image.height; ++y) {
    const float* row = image.row(y);
    for (int x = 0; x < image.width; ++x) holes += std::isnan(row[x]) ? 1 : 0;
  }
  return holes;
}

Image<float> halved(View<const float> fine) {
  Image<float> coarse((fine.width + 1) / 2, (fine.height + 1) / 2);
  for (int y = 0; y < coarse.height(); ++y) {
    for (int x = 0; x < coarse.width(); ++x) {
      float sum = 0;
      int known = 0;
      for (int fy = 2 * y; fy < std::min(2 * y + 2, fine.height); ++fy) {
        for (int fx = 2 * x; fx < std::min(2 * x + 2, fine.width); ++fx) {
          if (std::isnan(fine(fx, fy))) continue;
          sum += fine(fx, fy);
          ++known;
        }
      }
      coarse.plane()(x, y) = known > 0 ? sum / static_cast<float>(known) : kNan;
    }
  }
  return coarse;
}

float bilinear(View<const float> image, float x, float y) {
  x = std::clamp(x, 0.0f, static_cast<float>(image.width - 1));
  y = std::clamp(y, 0.0f, static_cast<float>(image.height - 1));
  const int x0 = std::min(static_cast<int>(x), std::max(0, image.width - 2));
  const int y0 = std::min(static_cast<int>(y), std::max(0, image.height - 2));
  const int x1 = std::min(x0 + 1, image.width - 1);
  const int y1 = std::min(y0 + 1, image.height - 1);
  const float tx = x - static_cast<float>(x0);
  const float ty = y - static_cast<float>(y0);
  const float top = image(x0, y0) + tx * (image(x1, y0) - image(x0, y0));
  const float bottom = image(x0, y1) + tx * (image(x1, y1) - image(x0, y1));
  return top + ty * (bottom - top);
}

}  // namespace

int fill_holes(View<float> image) {
  const int holes = count_holes(image);
  if (holes == 0) return 0;
  Image<float> coarse = halved(image);
  if (image.width <= 2 && image.height <= 2) {
    const float value = std::isnan(coarse.plane()(0, 0)) ? 0.0f : coarse.plane()(0, 0);
    coarse.fill(value);
  } else {
    fill_holes(coarse.plane());
  }
  for (int y = 0; y < image.height; ++y) {
    float* row = image.row(y);
    for (int x = 0; x < image.width; ++x) {
      // Pixel x of the fine picture lies at (x - 1/2) / 2 of the coarse one.
      if (std::isnan(row[x]))
        row[x] = bilinear(coarse.plane(), 0.5f * static_cast<float>(x) - 0.25f, 0.5f * static_cast<float>(y) - 0.25f);
    }
  }
  return holes;
}

}  // namespace ng::finish
