#include "math/lanczos.h"

#include <cmath>
#include <numbers>

namespace ng::math {
namespace {

double lanczos3(double x) {
  if (std::fabs(x) >= 3) return 0;
  if (std::fabs(x) < 1e-12) return 1;
  const double p = std::numbers::pi * x;
  return 3 * std::sin(p) * std::sin(p / 3) / (p * p);
}

}  // namespace

LanczosTable::LanczosTable() : weights_{} {
  for (int phase = 0; phase <= kPhases; ++phase) {
    std::array<double, kTaps> w{};
    double sum = 0;
    for (int k = 0; k < kTaps; ++k)
      sum += w[static_cast<std::size_t>(k)] = lanczos3(k - 2 - static_cast<double>(phase) / kPhases);
    Weights& out = weights_[static_cast<std::size_t>(phase)];
    double squares = 0;
    for (std::size_t k = 0; k < kTaps; ++k) {
      (k < 4 ? out.left[k] : out.right[k - 2]) = static_cast<float>(w[k] / sum);
      squares += w[k] * w[k] / (sum * sum);
    }
    out.sum_of_squares = static_cast<float>(squares);
  }
}

}  // namespace ng::math
