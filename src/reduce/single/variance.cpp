#include "reduce/single/variance.h"

#include <algorithm>
#include <cmath>

namespace ng::reduce {
namespace {

constexpr int kStep = 4;  // the gain is smooth but for dust: one pixel in sixteen tells its mean

// Mean of the flat's gain over a box; 1 without a flat.
double mean_gain(View<const float> gain, const Region& box) {
  if (gain.empty()) return 1;
  double sum = 0;
  int n = 0;
  const View<const float> part = gain.crop(box);
  for (int y = 0; y < part.height; y += kStep) {
    for (int x = 0; x < part.width; x += kStep) {
      if (std::isnan(part(x, y))) continue;
      sum += part(x, y);
      ++n;
    }
  }
  return n > 0 ? sum / n : 1;
}

}  // namespace

Image<float> predicted_variance(const BackgroundMap& background, const Calibration& calibration,
                                const CalibrationNoise& noise) {
  Image<float> variance(background.level.width(), background.level.height());
  const int box = background.box_px;
  const double zero = noise.zero_variance_e2 * (1 + 1.0 / noise.zero_frames);
  for (int j = 0; j < variance.height(); ++j) {
    for (int i = 0; i < variance.width(); ++i) {
      const Region region = intersect({i * box, j * box, box, box}, {0, 0, background.width, background.height});
      const double gain = mean_gain(calibration.flat_gain, region);
      const double level = std::max(0.0f, background.level.plane()(i, j));
      variance.plane()(i, j) =
          static_cast<float>(gain * level + gain * gain * zero + level * level * noise.flat_variance);
    }
  }
  return variance;
}

}  // namespace ng::reduce
