#include "app/shelf_cost.h"

#include <gtest/gtest.h>

#include <cmath>

#include "app/calibration_wish.h"

namespace ng::app {
namespace {

rig::Sensor sensor() {
  rig::Sensor s;
  s.gain_e_adu = 0.5;
  s.read_noise_e = 2;
  s.dark_e_s = 0.01;
  s.dark_reference_c = -10;
  return s;
}

// var_mean = V / N + V_dark / n, V_dark = D t + R^2 + g^2 / 12 (rig/signal.h), written out.
TEST(ShelfCost, NoiseOfFewDarks) {
  const SubNoise light{100, 40};
  const double dark = 0.01 * 300 + 4 + 0.25 / 12;
  for (const int n : {1, 5, 20})
    EXPECT_NEAR(noise_factor(sensor(), 300, -10, n, light), std::sqrt((100.0 / 40 + dark / n) / (100.0 / 40)), 1e-12);
  EXPECT_NE(cost_of_count(sensor(), 300, -10, 5, 20, light).find("20 darks add 6.8 %"), std::string::npos);
  EXPECT_NE(cost_of_count(sensor(), 300, -10, 0, 20, light).find("without darks 3 e-"), std::string::npos);
}

// Dark current at 0 C is 2.753 times that at -10 C: T^1.5 exp(-Eg / 2kT) of Janesick 2001, evaluated apart from this
// code.
TEST(ShelfCost, WhatOtherDarksLeave) {
  const double left = 0.01 * 300 - 0.01 * rig::dark_current_ratio(0, -10) * 300;
  EXPECT_NEAR(left, 3 - 3 * 2.7530, 0.001);
  EXPECT_NE(cost_of_others(sensor(), 300, -10, 300, 0, {100, 40}).find("leave -5.3 e- in the usual pixel and -53"),
            std::string::npos)
      << cost_of_others(sensor(), 300, -10, 300, 0, {100, 40});
  EXPECT_NE(cost_of_others(sensor(), 300, -10, 100, -10, {100, 40}).find("leave +2 e-"), std::string::npos);
}

TEST(CalibrationWish, ReadsAndRefuses) {
  const auto w = parse_calibration_wish("exposure_tolerance_percent = 5\ndarks = 30\nold_after_days = 90\n", "c.toml");
  ASSERT_TRUE(w.ok());
  EXPECT_NEAR(w->tolerance.exposure_share, 0.05, 1e-12);
  EXPECT_EQ(w->tolerance.temperature_c, CalibrationTolerance{}.temperature_c);
  EXPECT_EQ(w->count(FrameKind::kDark), 30);
  EXPECT_EQ(w->count(FrameKind::kBias), 20);
  EXPECT_EQ(w->old_after_days, 90);
  const auto wrong = parse_calibration_wish("temperature_tolerance_f = 5\n", "c.toml");
  ASSERT_FALSE(wrong.ok());
  EXPECT_NE(
      wrong.error().message().find("c.toml:1: temperature_tolerance_f: no such key; write temperature_tolerance_c"),
      std::string::npos)
      << wrong.error().message();
}

}  // namespace
}  // namespace ng::app
