#include "math/sampled.h"

#include <algorithm>
#include <cmath>

namespace ng::math {

std::vector<float> sampled(View<const float> image) {
  std::vector<float> values;
  const int stride = std::max(1, static_cast<int>(std::sqrt(static_cast<double>(image.width) * image.height / 4e5)));
  for (int y = 0; y < image.height; y += stride)
    for (int x = (y / stride) % stride; x < image.width; x += stride)
      if (std::isfinite(image(x, y))) values.push_back(image(x, y));
  return values;
}

}  // namespace ng::math
