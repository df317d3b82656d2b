#include "math/random.h"

#include <cmath>
#include <numbers>

namespace ng::math {

std::array<std::uint32_t, 4> Random::philox(std::array<std::uint32_t, 4> c, std::array<std::uint32_t, 2> k) {
  for (int round = 0; round < 10; ++round) {
    const std::uint64_t a = std::uint64_t{0xD2511F53} * c[0];
    const std::uint64_t b = std::uint64_t{0xCD9E8D57} * c[2];
    c = {static_cast<std::uint32_t>(b >> 32) ^ c[1] ^ k[0], static_cast<std::uint32_t>(b),
         static_cast<std::uint32_t>(a >> 32) ^ c[3] ^ k[1], static_cast<std::uint32_t>(a)};
    k[0] += 0x9E3779B9;
    k[1] += 0xBB67AE85;
  }
  return c;
}

Random::Random(std::uint64_t seed, std::uint64_t stream)
    : key_{static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(seed >> 32)},
      counter_{0, 0, static_cast<std::uint32_t>(stream), static_cast<std::uint32_t>(stream >> 32)} {}

std::uint32_t Random::bits() {
  if (left_ == 0) {
    block_ = philox(counter_, key_);
    if (++counter_[0] == 0) ++counter_[1];
    left_ = 4;
  }
  return block_[4 - left_--];
}

double Random::uniform() {
  const std::uint64_t high = bits() >> 5;  // 27 bits
  const std::uint64_t low = bits() >> 6;   // 26 bits
  return static_cast<double>((high << 26) | low) * 0x1p-53;
}

double Random::normal() {
  if (has_spare_) {
    has_spare_ = false;
    return spare_normal_;
  }
  const double radius = std::sqrt(-2 * std::log(1 - uniform()));
  const double angle = 2 * std::numbers::pi * uniform();
  spare_normal_ = radius * std::sin(angle);
  has_spare_ = true;
  return radius * std::cos(angle);
}

std::int64_t Random::poisson(double mean) {
  if (!(mean > 0)) return 0;
  if (mean < 10) {
    double u = uniform();
    double p = std::exp(-mean);
    std::int64_t k = 0;
    while (u > p && k < 200) {  // P(k >= 200 | mean 10) is below 1e-150
      u -= p;
      p *= mean / static_cast<double>(++k);
    }
    return k;
  }
  const double root = std::sqrt(mean);
  const double log_mean = std::log(mean);
  const double b = 0.931 + 2.53 * root;
  const double a = -0.059 + 0.02483 * b;
  const double inverse_alpha = 1.1239 + 1.1328 / (b - 3.4);
  const double v_r = 0.9277 - 3.6224 / (b - 2);
  while (true) {
    const double u = uniform() - 0.5;
    const double v = uniform();
    const double us = 0.5 - std::fabs(u);
    const double k = std::floor((2 * a / us + b) * u + mean + 0.43);
    if (us >= 0.07 && v <= v_r) return static_cast<std::int64_t>(k);
    if (k < 0 || (us < 0.013 && v > us)) continue;
    if (std::log(v) + std::log(inverse_alpha) - std::log(a / (us * us) + b) <=
        -mean + k * log_mean - std::lgamma(k + 1))
      return static_cast<std::int64_t>(k);
  }
}

}  // namespace ng::math
