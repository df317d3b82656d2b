#include "app/green_plane.h"

#include <algorithm>
#include <array>
#include <utility>
#include <vector>

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

float full_level(View<const float> raw) {
  std::vector<float> top_of_row(static_cast<std::size_t>(raw.height));
  for (int y = 0; y < raw.height; ++y) {
    std::array<float, 16> tops{};  // side by side: the loop then takes many pixels at once
    const float* row = raw.row(y);
    int x = 0;
    for (; x + 16 <= raw.width; x += 16)
      for (std::size_t k = 0; k < 16; ++k)
        tops[k] = row[x + static_cast<int>(k)] > tops[k] ? row[x + static_cast<int>(k)] : tops[k];
    for (; x < raw.width; ++x) tops[0] = row[x] > tops[0] ? row[x] : tops[0];
    top_of_row[static_cast<std::size_t>(y)] = *std::max_element(tops.begin(), tops.end());
  }
  const float top = *std::max_element(top_of_row.begin(), top_of_row.end());
  const float full = 0.999f * top, below = 0.99f * top;
  int at_top = 0, under_it = 0;
  for (int y = 0; y < raw.height; ++y) {
    if (top_of_row[static_cast<std::size_t>(y)] < below) continue;
    const float* row = raw.row(y);
    for (int x = 0; x < raw.width; ++x) {
      at_top += static_cast<int>(row[x] >= full);
      under_it += static_cast<int>(row[x] >= below);
    }
  }
  under_it -= at_top;
  return at_top >= 8 && at_top > under_it ? full : 0;
}

}  // namespace ng::app
