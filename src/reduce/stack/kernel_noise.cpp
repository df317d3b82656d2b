#include "reduce/stack/kernel_noise.h"

#include <cmath>

namespace ng::reduce {

void KernelNoise::add(std::size_t frame, std::span<const float> squares) {
  Sum& sum = sums_[frame];
  for (const float s : squares) {
    sum.squares += static_cast<double>(s);
    sum.values += s > 0 ? 1 : 0;
  }
}

double KernelNoise::correlation(int plane) const {
  double single = 0, wide = 0;
  for (std::size_t j = 0; j < frames_.size(); ++j) {
    const Sum& sum = sums_[j];
    if (sum.values == 0) continue;
    const PlaneScale& p = frames_[j].planes[static_cast<std::size_t>(plane)];
    const double area = frames_[j].pixel_area;
    // A master pixel that gathers the light of `area` pixels has, in a wide sum, the noise of so many.
    const double noise = p.weight * p.noise / p.scale;
    wide += noise * noise * area;
    single += noise * noise * area * area * sum.squares / sum.values;
  }
  return single > 0 ? std::sqrt(wide / single) : 1;
}

}  // namespace ng::reduce
