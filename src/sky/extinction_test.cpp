#include "sky/extinction.h"

#include <gtest/gtest.h>

namespace ng::sky {
namespace {

// Bouguer's law: k = 0.20, one airmass more dims by 0.2 magnitudes.
TEST(Extinction, OneAirmassMore) {
  EXPECT_NEAR(transmission(0.2, 2) / transmission(0.2, 1), 0.831763771102671, 1e-12);
  EXPECT_EQ(transmission(0.2, 0), 1.0);
}

// Green 1992, Int. Comet Quarterly 14, 55: V coefficients at 0, 0.5, 1, 2, 3 km, to the printed digits.
TEST(Extinction, VisualCoefficientByHeight) {
  const double expected[][2] = {{0, 0.2811}, {0.5, 0.23829}, {1, 0.20565}, {2, 0.16062}, {3, 0.13195}};
  for (const auto& [km, k] : expected) EXPECT_NEAR(clear_air_extinction(km, 550), k, 1e-4) << km;
}

TEST(Extinction, BlueLosesMore) {
  EXPECT_GT(clear_air_extinction(0.5, 450), clear_air_extinction(0.5, 550));
  EXPECT_LT(clear_air_extinction(0.5, 650), clear_air_extinction(0.5, 550));
}

}  // namespace
}  // namespace ng::sky
