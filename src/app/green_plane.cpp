#include "app/green_plane.h"

#include <utility>

namespace ng::app {

Image<float> green_plane(View<const float> mosaic, BayerPattern pattern) {
  Image<float> green(mosaic.width, mosaic.height);
  for (int y = 0; y < mosaic.height; ++y) {
    for (int x = 0; x < mosaic.width; ++x) {
      if (bayer_plane(pattern, x, y) == 1) {
        green.plane()(x, y) = mosaic(x, y);
        continue;
      }
      float sum = 0;
      int n = 0;
      for (const auto& [dx, dy] : {std::pair{1, 0}, std::pair{-1, 0}, std::pair{0, 1}, std::pair{0, -1}}) {
        if (x + dx < 0 || y + dy < 0 || x + dx >= mosaic.width || y + dy >= mosaic.height) continue;
        sum += mosaic(x + dx, y + dy);
        ++n;
      }
      green.plane()(x, y) = sum / static_cast<float>(n);
    }
  }
  return green;
}

}  // namespace ng::app
