#include "reduce/stack/slope.h"

#include <algorithm>
#include <cmath>

namespace ng::reduce {

void slope_row(View<const float> picture, int y, float* out) {
  const float* up = picture.row(std::max(0, y - 1));
  const float* row = picture.row(y);
  const float* down = picture.row(std::min(picture.height - 1, y + 1));
  for (int x = 0; x < picture.width; ++x) {
    const int l = std::max(0, x - 1);
    const int r = std::min(picture.width - 1, x + 1);
    const float dx = 0.5f * (row[r] - row[l]);
    const float dy = 0.5f * (down[x] - up[x]);
    // One-sided differences too: at the very peak of a star the central ones vanish, and its curvature matters.
    const float side = 0.5f * std::max({std::fabs(row[r] - row[x]), std::fabs(row[x] - row[l]),
                                        std::fabs(down[x] - row[x]), std::fabs(row[x] - up[x])});
    const float slope = std::max(std::sqrt(dx * dx + dy * dy), side);
    out[x] = std::isfinite(slope) ? slope : 0;
  }
}

}  // namespace ng::reduce
