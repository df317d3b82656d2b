#include "simulate/photon_noise.h"

#include <algorithm>
#include <array>
#include <bit>
#include <cassert>
#include <cmath>
#include <iterator>

#include "math/random.h"

namespace ng::simulate {
namespace {

constexpr int kLanes = 64;  // Philox blocks at a time; each serves two pixels
constexpr float kSmallMean = 10;

struct Block {
  std::uint32_t w0[kLanes], w1[kLanes], w2[kLanes], w3[kLanes];
};

// math::Random::philox() for counters (first + lane, 0, stream), written so that the compiler can vectorise it.
void philox_lanes(std::uint64_t seed, std::uint64_t stream, std::uint32_t first, Block& out) {
  for (int i = 0; i < kLanes; ++i) {
    out.w0[i] = first + static_cast<std::uint32_t>(i);
    out.w1[i] = 0;
    out.w2[i] = static_cast<std::uint32_t>(stream);
    out.w3[i] = static_cast<std::uint32_t>(stream >> 32);
  }
  auto k0 = static_cast<std::uint32_t>(seed), k1 = static_cast<std::uint32_t>(seed >> 32);
  for (int round = 0; round < 10; ++round) {
    for (int i = 0; i < kLanes; ++i) {
      const std::uint64_t a = std::uint64_t{0xD2511F53} * out.w0[i];
      const std::uint64_t b = std::uint64_t{0xCD9E8D57} * out.w2[i];
      out.w0[i] = static_cast<std::uint32_t>(b >> 32) ^ out.w1[i] ^ k0;
      out.w2[i] = static_cast<std::uint32_t>(a >> 32) ^ out.w3[i] ^ k1;
      out.w1[i] = static_cast<std::uint32_t>(b);
      out.w3[i] = static_cast<std::uint32_t>(a);
    }
    k0 += 0x9E3779B9;
    k1 += 0xBB67AE85;
  }
}

// Natural logarithm of a normal positive float: exponent and an even series of the mantissa around sqrt(1/2)..sqrt(2),
// 2 atanh(s) with s = (m - 1) / (m + 1); the first term left out is below 2e-8.
inline float log_plain(float x) {
  const auto bits = std::bit_cast<std::int32_t>(x);
  const std::int32_t shifted = bits - 0x3f3504f3;  // bits of sqrt(1/2)
  const std::int32_t exponent = shifted >> 23;
  const float m = std::bit_cast<float>(bits - (exponent << 23));
  const float s = (m - 1) / (m + 1);
  const float q = s * s;
  const float series = s * (2 + q * (0.66666667f + q * (0.4f + q * (0.28571429f + q * 0.22222222f))));
  return static_cast<float>(exponent) * 0.69314718f + series;
}

// Pairs of normal deviates from pairs of words.
void box_muller(const std::uint32_t* __restrict a, const std::uint32_t* __restrict b, float* __restrict z0,
                float* __restrict z1) {
  for (int i = 0; i < kLanes; ++i) {
    const float u = static_cast<float>(static_cast<std::int32_t>(a[i] >> 1)) * 0x1p-31f + 0x1p-32f;
    const float square = -2 * log_plain(u);
    const float radius = std::sqrt(square > 0 ? square : 0);
    // Angle pi t, t in [-1, 1): the nearest multiple of pi/2 is taken out, Taylor series do the rest (|x| <= pi/4).
    const float t = static_cast<float>(static_cast<std::int32_t>(b[i])) * 0x1p-31f;
    const float quarters = std::floor(2 * t + 0.5f);
    const float x = 3.14159265f * (t - 0.5f * quarters);
    const float q = x * x;
    const float sine = x * (1 + q * (-0.16666667f + q * (0.0083333333f + q * (-0.00019841270f + q * 2.7557319e-6f))));
    const float cosine = 1 + q * (-0.5f + q * (0.041666667f + q * (-0.0013888889f + q * 2.4801587e-5f)));
    const auto quarter = static_cast<std::int32_t>(quarters);
    const float s = (quarter & 1) != 0 ? cosine : sine;
    const float c = (quarter & 1) != 0 ? sine : cosine;
    z0[i] = radius * ((quarter & 2) != 0 ? -s : s);
    z1[i] = radius * (((quarter + 1) & 2) != 0 ? -c : c);
  }
}

void poisson_from_normal(const float* __restrict means, const float* __restrict z, float* __restrict out) {
  for (int i = 0; i < 2 * kLanes; ++i) {
    const float mean = means[i] > kSmallMean ? means[i] : kSmallMean;
    const float root = std::sqrt(mean);
    const float q = z[i] * z[i];
    out[i] = std::floor(mean + z[i] * root + 0.33333333f + q * 0.16666667f -
                        z[i] * (0.027777778f + q * 0.013888889f) / root);
  }
}

// 1 / k, so that the loop below multiplies.
constexpr int kLargestCount = 200;  // P(k >= 200 | mean 10) is below 1e-150
constexpr std::array<double, kLargestCount + 1> make_reciprocals() {
  std::array<double, kLargestCount + 1> r{};
  for (int k = 1; k <= kLargestCount; ++k) r[static_cast<std::size_t>(k)] = 1.0 / k;
  return r;
}
constexpr auto kReciprocal = make_reciprocals();

// Exact inversion for a small mean from 32 bits.
float poisson_by_inversion(float mean, std::uint32_t word) {
  double u = (static_cast<double>(word) + 0.5) * 0x1p-32;
  double p = std::exp(-static_cast<double>(mean));
  std::size_t k = 0;
  while (u > p && k < kLargestCount) {
    u -= p;
    p *= mean * kReciprocal[++k];
  }
  return static_cast<float>(k);
}

std::array<std::uint32_t, 4> fresh_block(std::uint64_t seed, std::uint64_t stream, std::uint32_t counter) {
  return math::Random::philox(
      {counter, 1, static_cast<std::uint32_t>(stream), static_cast<std::uint32_t>(stream >> 32)},
      {static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(seed >> 32)});
}

}  // namespace

void draw_noise(std::uint64_t seed, std::uint64_t stream, std::span<const float> mean, std::span<float> photons,
                std::span<float> normals) {
  assert(photons.size() == mean.size() && normals.size() == mean.size());
  Block block;
  float means[2 * kLanes], z_photon[2 * kLanes], z_read[2 * kLanes], drawn[2 * kLanes];
  const std::size_t count = mean.size();
  std::uint32_t first = 0;
  for (std::size_t begin = 0; begin < count; begin += 2 * kLanes, first += kLanes) {
    const std::size_t here = std::min<std::size_t>(2 * kLanes, count - begin);
    philox_lanes(seed, stream, first, block);
    std::fill(std::copy_n(mean.data() + begin, here, means), std::end(means), 0.0f);
    // Lane i serves pixels i and i + kLanes.
    box_muller(block.w0, block.w1, z_read, z_read + kLanes);
    box_muller(block.w2, block.w3, z_photon, z_photon + kLanes);
    poisson_from_normal(means, z_photon, drawn);
    for (int i = 0; i < 2 * kLanes; ++i) {
      if (means[i] >= kSmallMean) continue;
      drawn[i] = 0;
      if (!(means[i] > 0)) continue;
      // Two small means share a block, a word each. Beside a large mean, which needs both words, a small one takes its
      // word from a block of its own.
      const int lane = i % kLanes, half = i / kLanes;
      std::uint32_t word = half == 0 ? block.w2[lane] : block.w3[lane];
      if (means[lane] >= kSmallMean || means[lane + kLanes] >= kSmallMean)
        word = fresh_block(seed, stream, first + static_cast<std::uint32_t>(lane))[half];
      drawn[i] = poisson_by_inversion(means[i], word);
    }
    std::copy_n(drawn, here, photons.data() + begin);
    std::copy_n(z_read, here, normals.data() + begin);
  }
}

}  // namespace ng::simulate
