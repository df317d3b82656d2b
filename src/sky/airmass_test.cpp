#include "sky/airmass.h"

#include <gtest/gtest.h>

#include <cmath>

#include "base/angle.h"

namespace ng::sky {
namespace {

// Kasten & Young 1989, eq. (3), evaluated in double precision by an independent program.
TEST(Airmass, KastenYoungPublishedFormula) {
  const double expected[][2] = {{90, 0.9997119918558381}, {60, 1.153992233363676}, {30, 1.9942928525292503},
                                {20, 2.9031466488031006}, {10, 5.586035879851202}, {5, 10.305791327930303}};
  for (const auto& [altitude_deg, x] : expected)
    EXPECT_NEAR(kasten_young(deg_to_rad(altitude_deg)), x, 1e-9) << altitude_deg;
}

// Their table gives 38.09 at the horizon; the paper states the formula's error as below 0.5 % (from memory).
TEST(Airmass, HorizonOfTheTable) {
  EXPECT_NEAR(kasten_young(0), 38.0868, 0.005 * 38.0868);
}

TEST(Airmass, NeverBelowOneAndNothingBelowTheHorizon) {
  EXPECT_EQ(airmass(kPi / 2), 1.0);
  EXPECT_TRUE(std::isinf(airmass(-1e-6)));
  EXPECT_EQ(airmass(deg_to_rad(30)), kasten_young(deg_to_rad(30)));
}

}  // namespace
}  // namespace ng::sky
