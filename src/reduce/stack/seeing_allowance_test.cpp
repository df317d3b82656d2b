#include "reduce/stack/seeing_allowance.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <vector>

namespace ng::reduce {
namespace {

constexpr float kKappa = 4.5f, kSlopeAllowance = 0.3f;

double star(double x, double fwhm) {  // a row through the middle of a Gaussian star of flux 1
  const double s2 = std::pow(fwhm / 2.3548, 2) + 1 / 12.0;
  return std::exp(-x * x / (2 * s2)) / (2 * 3.14159265 * s2);
}

std::vector<float> row_of(double flux, double fwhm, double sky_slope = 0) {
  std::vector<float> row;
  for (int x = 0; x < 61; ++x) row.push_back(static_cast<float>(100 + sky_slope * x + flux * star(x - 30, fwhm)));
  return row;
}

std::vector<float> allowed(const std::vector<float>& median, const SeeingSpread& spread) {
  std::vector<float> slope(median.size(), 0.0f);
  add_seeing_allowance(median, spread, kKappa, kSlopeAllowance, slope.data());
  for (float& s : slope) s *= kKappa * kSlopeAllowance;
  return slope;
}

// All frames' stars lie within what is allowed around the median's, and not by much more than they need.
TEST(SeeingAllowance, HoldsTheStarsOfAllFrames) {
  const std::vector<double> fwhm{2.0, 2.6, 3.5, 3.6, 4.4, 5.0, 5.5};
  const SeeingSpread spread = seeing_spread(fwhm);
  const std::vector<float> median = row_of(4000, 3.6);
  const std::vector<float> limit = allowed(median, spread);
  for (const double f : fwhm) {
    const std::vector<float> frame = row_of(4000, f);
    for (std::size_t x = 29; x <= 31; ++x)
      EXPECT_LT(std::fabs(frame[x] - median[x]), limit[x]) << "FWHM " << f << ", x " << x;
  }
  EXPECT_LT(limit[30], 1.4f * (row_of(4000, 2.0)[30] - median[30]));
}

TEST(SeeingAllowance, NothingForSkiesThatDoNotStandOut) {
  const SeeingSpread spread = seeing_spread(std::vector<double>{2.0, 3.6, 5.5});
  for (const float a : allowed(row_of(0, 3.6, 2.5), spread)) EXPECT_LT(a, 0.01f);  // a slope alone
  std::vector<float> hole = row_of(-4000, 3.6);
  EXPECT_EQ(allowed(hole, spread)[30], 0);
}

TEST(SeeingAllowance, StableSeeingAllowsLittle) {
  const SeeingSpread spread = seeing_spread(std::vector<double>{3.4, 3.5, 3.5, 3.6});
  EXPECT_GT(spread.share, 0.04);
  EXPECT_LT(spread.share, 0.08);  // 1.25 x ((3.5 / 3.4)^2 - 1), pixels aside
  EXPECT_EQ(seeing_spread(std::vector<double>{3.0, 3.0, 3.0}).share, 0);
  EXPECT_EQ(seeing_spread(std::vector<double>{3.0, 0, -1}).share, 0);  // one is known: nothing to compare it with
  EXPECT_EQ(seeing_spread(std::vector<double>{}).share, 0);
}

TEST(SeeingAllowance, AddsInQuadratureAndKeepsBordersAndHoles) {
  const SeeingSpread spread{1.35, 5};  // kappa x slope_allowance x 1
  std::vector<float> median(21, 0.0f);
  median[10] = 4;
  median[2] = 9;  // nearer to the border than the reach
  median[16] = std::numeric_limits<float>::quiet_NaN();
  std::vector<float> slope(21, 3.0f);
  add_seeing_allowance(median, spread, kKappa, kSlopeAllowance, slope.data());
  EXPECT_NEAR(slope[10], 5, 1e-5);
  EXPECT_EQ(slope[2], 3);
  EXPECT_EQ(slope[16], 3);
  EXPECT_EQ(slope[11], 3);  // its neighbour to the right is the hole
  add_seeing_allowance(std::vector<float>(4, 1.0f), spread, kKappa, kSlopeAllowance, slope.data());  // shorter than it
}

}  // namespace
}  // namespace ng::reduce
