#include "rig/power.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace ng::rig {
namespace {

using testing::HasSubstr;

Power rig_of(double supply_a) {
  Power p;
  p.loads = {{"mount", 10, 60, 1, ""}, {"cooler", 20, 30, 1, ""}, {"heater", 15, 0, 0.5, ""}};
  p.supplies = {{"main", 12, supply_a, 5, 1.5, std::nullopt}};
  p.battery = Battery{Chemistry::kLithiumIronPhosphate, 100, 12.8, 0.8};
  return p;
}

// By hand: mean 10 + 20 + 7.5 = 37.5 W; peak 60 + 30 + 15 = 105 W = 8.75 A; 5 m of 1.5 mm2 at 20 C: 2 x 5 x 0.0133
// x 8.75.
TEST(Power, SumsAndDrop) {
  const auto use = power_use(rig_of(10), 20, 10);
  ASSERT_TRUE(use.ok());
  EXPECT_NEAR(use->mean_w, 37.5, 1e-12);
  EXPECT_NEAR(use->supplies[0].peak_a, 8.75, 1e-12);
  EXPECT_NEAR(use->supplies[0].drop_v, 1.16375, 1e-9);
  EXPECT_EQ(use->supplies[0].fuse_a, 15);
  EXPECT_NEAR(*use->runtime_h, 100 * 12.8 * 0.8 / 37.5, 1e-9);
  EXPECT_THAT(use->supplies[0].flags, testing::ElementsAre(HasSubstr("10.84 V arrive")));
  EXPECT_TRUE(use->flags.empty());
}

TEST(Power, TheMountDeservesItsOwnSupply) {
  Power p = rig_of(7);
  EXPECT_THAT(power_use(p, 20, 10)->supplies[0].flags,
              testing::Contains(HasSubstr("mount deserves a supply of its own")));
  p.supplies.push_back({"mount", 12, 7, 2, 2.5, std::nullopt});
  p.loads[0].supply = "mount";
  const auto use = power_use(p, 20, 10);
  ASSERT_TRUE(use.ok());
  EXPECT_TRUE(use->supplies[0].flags.empty());
  EXPECT_TRUE(use->supplies[1].flags.empty());
}

TEST(Power, ColdNightsAndWrongInput) {
  Power p = rig_of(10);
  p.battery->capacity_ah = 30;
  const auto use = power_use(p, -10, 12);
  EXPECT_THAT(use->flags, testing::Contains(HasSubstr("the battery lasts")));
  EXPECT_THAT(use->flags, testing::Contains(HasSubstr("below 0 C")));
  p.loads[1].supply = "none";
  EXPECT_THAT(power_use(p, 0, 5).error().message(), HasSubstr("load cooler: there is no supply none"));
  p.loads[1].supply = "";
  p.supplies[0].cable_mm2.reset();
  EXPECT_THAT(power_use(p, 0, 5).error().message(), HasSubstr("cable_mm2 or cable_awg"));
}

}  // namespace
}  // namespace ng::rig
