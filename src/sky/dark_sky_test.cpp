#include "sky/dark_sky.h"

#include <gtest/gtest.h>

#include "base/angle.h"

namespace ng::sky {
namespace {

// Krisciunas & Schaefer 1991 with their zenith sky of 79 nanolamberts and k = 0.172, evaluated by an independent
// program.
TEST(DarkSky, BrightensTowardsTheHorizon) {
  const double expected[][2] = {{0, 79.0}, {30, 88.532205351232}, {60, 129.6666518272478}, {75, 175.48659654693648}};
  for (const auto& [z_deg, nanolamberts] : expected)
    EXPECT_NEAR(79.0 * dark_sky_ratio(deg_to_rad(z_deg), 0.172), nanolamberts, 1e-9) << z_deg;
}

}  // namespace
}  // namespace ng::sky
