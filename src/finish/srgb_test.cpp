#include "finish/srgb.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace ng::finish {
namespace {

// IEC 61966-2-1:1999, evaluated from the published constants in double precision (0.18 also stands in the documents of
// colour libraries); the 8-bit values are the rounded ones.
TEST(Srgb, AgreesWithTheStandard) {
  EXPECT_NEAR(srgb_encode(0.001), 0.01292, 1e-9);
  EXPECT_NEAR(srgb_encode(0.0031308), 0.040449936, 1e-9);
  EXPECT_NEAR(srgb_encode(0.01), 0.09985282273412832, 1e-9);
  EXPECT_NEAR(srgb_encode(0.18), 0.46135612950044164, 1e-9);
  EXPECT_NEAR(srgb_encode(0.5), 0.7353569830524495, 1e-9);
  EXPECT_NEAR(srgb_decode(0.02), 0.0015479876160990713, 1e-9);
  EXPECT_NEAR(srgb_decode(0.04045), 0.0031308049535603713, 1e-9);
  EXPECT_NEAR(srgb_decode(0.5), 0.21404114048223255, 1e-9);
  const SrgbTable table;
  const auto eight_bit = [&](float v) { return (table.encode16(v) + 128) / 257; };
  EXPECT_EQ(eight_bit(0.001f), 3);
  EXPECT_EQ(eight_bit(0.0031308f), 10);
  EXPECT_EQ(eight_bit(0.01f), 25);
  EXPECT_EQ(eight_bit(0.18f), 118);
  EXPECT_EQ(eight_bit(0.5f), 188);
}

TEST(Srgb, TheTableFollowsTheFormula) {
  const SrgbTable table;
  double worst = 0;
  int previous = 0;
  for (int i = 0; i <= 400000; ++i) {
    const float v = static_cast<float>(i) / 400000.0f;
    const int got = table.encode16(v);
    worst = std::max(worst, std::fabs(got - 65535 * srgb_encode(static_cast<double>(v))));
    EXPECT_GE(got, previous);
    previous = got;
  }
  EXPECT_LT(worst, 0.52);  // rounding is half a step
  EXPECT_EQ(table.encode16(0), 0);
  EXPECT_EQ(table.encode16(1), 65535);
  EXPECT_EQ(table.encode16(-1), 0);
  EXPECT_EQ(table.encode16(7), 65535);
  EXPECT_EQ(table.encode16(std::numeric_limits<float>::quiet_NaN()), 0);
}

}  // namespace
}  // namespace ng::finish
