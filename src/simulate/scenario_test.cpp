#include "simulate/scenario.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

namespace ng::simulate {
namespace {

using testing::HasSubstr;

TEST(Scenario, BuiltInNightsAreValid) {
  for (const NightSize size : {NightSize::kSmall, NightSize::kLarge}) {
    EXPECT_TRUE(built_in_scenario(size).validate().ok());
    const Scenario mosaic = with_mosaic_sensor(built_in_scenario(size));
    EXPECT_TRUE(mosaic.validate().ok());
    EXPECT_EQ(mosaic.light_count(), built_in_scenario(size).light_count());
  }
  EXPECT_EQ(built_in_scenario(NightSize::kLarge).light_count(), 16);
}

TEST(Scenario, RefusesNonsenseByPlaceAndName) {
  Scenario s = built_in_scenario(NightSize::kSmall);
  s.air.moffat_beta = 1;
  EXPECT_THAT(s.validate().error().message(), HasSubstr("air: moffat_beta is 1"));
  s = built_in_scenario(NightSize::kSmall);
  s.site.latitude_deg = std::nan("");
  EXPECT_THAT(s.validate().error().message(), HasSubstr("site: latitude_deg"));
  s = built_in_scenario(NightSize::kSmall);
  s.filters[1].filter.name = "L";
  EXPECT_THAT(s.validate().error().message(), HasSubstr("filter L is planned twice"));
  s.filters[1].filter.name = "../R";
  EXPECT_THAT(s.validate().error().message(), HasSubstr("file names"));
  s = built_in_scenario(NightSize::kSmall);
  s.exposures.evening = "tomorrow";
  EXPECT_THAT(s.validate().error().message(), HasSubstr("2026-01-14"));
  s = with_mosaic_sensor(built_in_scenario(NightSize::kSmall));
  s.filters = built_in_scenario(NightSize::kSmall).filters;
  EXPECT_THAT(s.validate().error().message(), HasSubstr("mosaic"));
}

TEST(Scenario, WheelTellsWhatItHas) {
  EXPECT_EQ(built_in_filter("OIII")->width_nm, 7);
  EXPECT_THAT(built_in_filter("X").error().message(), HasSubstr("L, R, G, B, Ha, OIII, SII"));
}

}  // namespace
}  // namespace ng::simulate
