// The plain twin of draw_noise(): the same counters one at a time, small means by the same exact inversion, large ones
// by the library's exact method. Small means and normals must agree draw by draw, large means in distribution.
#pragma once

#include <cmath>
#include <numbers>
#include <vector>

#include "math/random.h"

namespace ng::simulate {

struct SlowNoise {
  std::vector<double> photons, normals;
};

inline SlowNoise draw_noise_slow(std::uint64_t seed, std::uint64_t stream, const std::vector<float>& mean) {
  constexpr std::size_t kLanes = 64;
  SlowNoise out{std::vector<double>(mean.size()), std::vector<double>(mean.size())};
  math::Random large(seed ^ 0x5555, stream);
  for (std::size_t i = 0; i < mean.size(); ++i) {
    const std::size_t lane = i % kLanes, half = i / kLanes % 2, chunk = i / (2 * kLanes);
    const auto counter = static_cast<std::uint32_t>(chunk * kLanes + lane);
    const auto words =
        math::Random::philox({counter, 0, static_cast<std::uint32_t>(stream), static_cast<std::uint32_t>(stream >> 32)},
                             {static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(seed >> 32)});
    const double radius = std::sqrt(-2 * std::log(((words[0] >> 1) + 0.5) * 0x1p-31));
    const double angle = std::numbers::pi * static_cast<std::int32_t>(words[1]) * 0x1p-31;
    out.normals[i] = radius * (half == 0 ? std::sin(angle) : std::cos(angle));
    if (mean[i] >= 10) {
      out.photons[i] = static_cast<double>(large.poisson(mean[i]));
      continue;
    }
    double u = (words[2 + half] + 0.5) * 0x1p-32;
    double p = std::exp(-static_cast<double>(mean[i]));
    int k = 0;
    for (; mean[i] > 0 && u > p; ++k) {
      u -= p;
      p *= mean[i] / (k + 1.0);
    }
    out.photons[i] = k;
  }
  return out;
}

}  // namespace ng::simulate
