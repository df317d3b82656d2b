// finish/sampling.h - a regular sample of an image's pixels, for statistics that do not need them all.
#pragma once

#include <algorithm>
#include <cmath>
#include <vector>

#include "base/image.h"

namespace ng::finish {

// Step of a square grid that takes about `count` of the image's pixels; odd, so that both parities of rows and columns
// are met.
[[nodiscard]] inline int sample_step(int width, int height, int count) {
  const double pixels = static_cast<double>(width) * height;
  return std::max(1, static_cast<int>(std::sqrt(pixels / std::max(1, count)))) | 1;
}

// The finite values on such a grid, row by row.
[[nodiscard]] inline std::vector<float> sample(View<const float> image, int count) {
  const int step = sample_step(image.width, image.height, count);
  std::vector<float> values;
  for (int y = 0; y < image.height; y += step)
    for (int x = 0; x < image.width; x += step)
      if (std::isfinite(image(x, y))) values.push_back(image(x, y));
  return values;
}

}  // namespace ng::finish
