#include "reduce/stack/slope.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace ng::reduce {

namespace {

// Half the largest of four steps. One-sided ones: at the very peak of a star the central differences vanish, and its
// curvature matters.
float largest_side(float here, float left, float right, float up, float down) {
  float most = std::fabs(right - here);
  most = std::max(most, std::fabs(here - left));
  most = std::max(most, std::fabs(down - here));
  return 0.5f * std::max(most, std::fabs(here - up));
}

float slope_of(float here, float left, float right, float up, float down) {
  const float dx = 0.5f * (right - left);
  const float dy = 0.5f * (down - up);
  const float slope = std::max(std::sqrt(dx * dx + dy * dy), largest_side(here, left, right, up, down));
  return std::fabs(slope) <= std::numeric_limits<float>::max() ? slope : 0;
}

}  // namespace

void slope_row(View<const float> picture, int y, float* out) {
  const float* up = picture.row(std::max(0, y - 1));
  const float* row = picture.row(y);
  const float* down = picture.row(std::min(picture.height - 1, y + 1));
  const int last = picture.width - 1;
  for (int x = 1; x < last; ++x) out[x] = slope_of(row[x], row[x - 1], row[x + 1], up[x], down[x]);
  out[0] = slope_of(row[0], row[0], row[std::min(1, last)], up[0], down[0]);
  out[last] = slope_of(row[last], row[std::max(0, last - 1)], row[last], up[last], down[last]);
}

}  // namespace ng::reduce
