#include "rig/gain_table.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

namespace ng::rig {
namespace {

using testing::HasSubstr;

TEST(GainTable, BetweenRows) {
  const GainTable table{{{0, 1.0, 3, std::nullopt}, {200, 0.1, 1, std::nullopt}}};
  EXPECT_NEAR(table.at(100)->gain_e_adu, std::sqrt(0.1), 1e-12);  // decibels: straight in the logarithm
  EXPECT_NEAR(table.at(100)->read_noise_e, 2, 1e-12);
  EXPECT_EQ(table.at(200)->gain_e_adu, 0.1);
  EXPECT_THAT(table.at(201).error().message(), HasSubstr("goes from 0 to 200"));
}

TEST(GainTable, RefusesNonsense) {
  EXPECT_THAT(GainTable{}.validate().error().message(), HasSubstr("no gain"));
  EXPECT_THAT((GainTable{{{5, 1, 1, {}}, {5, 1, 1, {}}}}).validate().error().message(), HasSubstr("5 follows 5"));
  EXPECT_THAT((GainTable{{{5, 1, 0, {}}}}).validate().error().message(), HasSubstr("must be positive"));
}

// EMVA 1288 R4.0 dynamic range is saturation over dark noise, both in photons. Reference data set: SNR max
// 118.205880802, so saturation 118.205880802^2 electrons; threshold 25.3600660517 photons at a quantum efficiency
// of 45.1356082834 %.
TEST(GainTable, DynamicRangeOfTheReferenceDataSet) {
  Sensor sensor;
  sensor.full_well_e = std::pow(118.205880802, 2);
  sensor.gain_e_adu = 1;
  sensor.read_noise_e = 25.3600660517 * 0.451356082834;
  EXPECT_NEAR(dynamic_range(sensor), 1220.69871336, 1e-5);
}

}  // namespace
}  // namespace ng::rig
