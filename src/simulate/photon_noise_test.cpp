#include "simulate/photon_noise.h"

#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "simulate/photon_noise_slow.h"

namespace ng::simulate {
namespace {

struct Drawn {
  std::vector<float> photons, normals;
};

Drawn draw(std::uint64_t seed, std::uint64_t stream, const std::vector<float>& mean) {
  Drawn d{std::vector<float>(mean.size()), std::vector<float>(mean.size())};
  draw_noise(seed, stream, mean, d.photons, d.normals);
  return d;
}

// Draw by draw against the plain twin, over awkward lengths. Normals: single against double precision, |z| < 6.7.
TEST(PhotonNoise, SameDrawsAsThePlainTwin) {
  for (const std::size_t length : {1u, 2u, 63u, 64u, 65u, 127u, 128u, 129u, 1000u}) {
    std::vector<float> mean(length);
    for (std::size_t i = 0; i < length; ++i) mean[i] = 0.01f * static_cast<float>(i % 900);
    const Drawn fast = draw(5, 77, mean);
    const SlowNoise slow = draw_noise_slow(5, 77, mean);
    for (std::size_t i = 0; i < length; ++i) {
      ASSERT_EQ(fast.photons[i], slow.photons[i]) << length << ' ' << i;
      ASSERT_NEAR(fast.normals[i], slow.normals[i], 5e-6) << length << ' ' << i;
    }
  }
}

// Mean and variance of the deviates: both are the Poisson parameter. Five standard errors: one in a million fails.
TEST(PhotonNoise, Moments) {
  for (const float m : {0.02f, 0.9f, 5.0f, 9.99f, 10.0f, 11.0f, 30.0f, 400.0f, 25000.0f, 400000.0f}) {
    const int n = 400000;
    const Drawn d = draw(3, 9, std::vector<float>(n, m));
    double sum = 0, sum2 = 0, sum3 = 0;
    for (const float p : d.photons) {
      const double e = static_cast<double>(p) - m;
      sum += e;
      sum2 += e * e;
      sum3 += e * e * e;
    }
    EXPECT_NEAR(sum / n, 0, 5 * std::sqrt(m / n)) << m;
    EXPECT_NEAR(sum2 / n, m, 5 * std::sqrt((2.0 * m * m + m) / n)) << m;
    // Third central moment of a Poisson deviate is its mean; the error of its estimate is sqrt(15 m^3 + 25 m^2 + m)
    // over sqrt(n) (sixth central moment less the square of the third).
    EXPECT_NEAR(sum3 / n, m, 5 * std::sqrt((15.0 * m * m * m + 25.0 * m * m + m) / n)) << m;
  }
}

// Whole distribution just above the switch to the expansion: chi-square over counts of at least 20 expected. The
// exact probabilities differ by 6e-4 in total variation, which 400000 draws cannot see.
TEST(PhotonNoise, DistributionAtTheSwitch) {
  for (const float m : {9.5f, 10.5f, 16.0f}) {
    const int n = 400000;
    const Drawn d = draw(12, 1, std::vector<float>(n, m));
    std::map<int, double> counts;
    for (const float p : d.photons) counts[static_cast<int>(p)] += 1;
    double chi2 = 0;
    int cells = 0;
    for (int k = 0; k < 80; ++k) {
      const double expected = n * std::exp(k * std::log(double{m}) - m - std::lgamma(k + 1.0));
      if (expected < 20) continue;
      chi2 += std::pow(counts[k] - expected, 2) / expected;
      ++cells;
    }
    EXPECT_LT(chi2, cells + 5 * std::sqrt(2.0 * cells)) << m;
  }
}

// Neighbours of small and large mean (a hot pixel in a dark frame) stay independent: correlation within 5 / sqrt(n).
TEST(PhotonNoise, MixedNeighboursAreIndependent) {
  const int n = 256000;
  std::vector<float> mean(n);
  for (int i = 0; i < n; ++i) mean[i] = i / 64 % 2 == 0 ? 5.0f : 500.0f;  // lanes pair i with i + 64
  const Drawn d = draw(8, 2, mean);
  double photon_photon = 0, photon_read = 0, read_read = 0;
  for (int i = 0; i < n; ++i) {
    if (i / 64 % 2 != 0) continue;
    const double a = (d.photons[i] - 5.0) / std::sqrt(5.0), b = (d.photons[i + 64] - 500.0) / std::sqrt(500.0);
    photon_photon += a * b;
    photon_read += a * d.normals[i];
    read_read += static_cast<double>(d.normals[i]) * d.normals[i + 64];
  }
  const double limit = 5 * std::sqrt(n / 2.0);
  EXPECT_LT(std::fabs(photon_photon), limit);
  EXPECT_LT(std::fabs(photon_read), limit);
  EXPECT_LT(std::fabs(read_read), limit);
}

}  // namespace
}  // namespace ng::simulate
