#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "rig/filter.h"
#include "rig/optics.h"
#include "rig/sensor.h"

namespace ng::rig {
namespace {

using testing::HasSubstr;

Sensor good_sensor() {
  return {"test", 100, 100, 3.8, 0.8, 1.5, 50000, 500, 16, 0.01, 0, {{{400, 0.8}, {700, 0.7}}}, std::nullopt};
}

TEST(Optics, ScaleAndArea) {
  const Optics optics{"test", 200, 100, 1000, 0.9};
  EXPECT_NEAR(optics.scale_arcsec_px(5), 206.264806 * 5 / 1000, 1e-6);  // the familiar 206.265 p / f
  EXPECT_NEAR(optics.area_cm2(), 235.619449, 1e-5);                     // pi/4 (20^2 - 10^2)
  EXPECT_EQ(optics.focal_ratio(), 5);
}

TEST(Optics, RefusesNonsenseByName) {
  Optics optics{"test", 130, 140, 650, 0.9};
  EXPECT_THAT(optics.validate().error().message(), HasSubstr("obstruction_mm is 140"));
  optics.obstruction_mm = 0;
  EXPECT_TRUE(optics.validate().ok());
  optics.focal_length_mm = std::nan("");
  EXPECT_THAT(optics.validate().error().message(), HasSubstr("focal_length_mm"));
}

// Mid-gap law: local doubling temperature ln 2 / (d ln rate / dT), and the ratio between +20 and -10 C, evaluated by an
// independent program.
TEST(Sensor, DarkCurrentDoubling) {
  for (const auto& [t, doubling] : {std::pair{20.0, 8.112}, {0.0, 7.092}, {-20.0, 6.134}, {-40.0, 5.239}}) {
    const double slope = std::log(dark_current_ratio(t + 0.01, t - 0.01)) / 0.02;
    EXPECT_NEAR(std::log(2.0) / slope, doubling, 1e-3) << t;
  }
  EXPECT_NEAR(dark_current_ratio(20, -10), 17.119, 1e-3);
}

TEST(Sensor, SaturationIsWellOrConverter) {
  Sensor sensor = good_sensor();
  EXPECT_EQ(sensor.saturation_e(), 50000);
  sensor.bits = 14;
  EXPECT_NEAR(sensor.saturation_e(), (16383 - 500) * 0.8, 1e-9);
}

TEST(Sensor, RefusesNonsenseByName) {
  Sensor sensor = good_sensor();
  EXPECT_TRUE(sensor.validate().ok());
  sensor.gain_e_adu = 0;
  EXPECT_THAT(sensor.validate().error().message(), HasSubstr("gain_e_adu"));
  sensor = good_sensor();
  sensor.quantum_efficiency.points = {{500, 0.5}, {400, 0.6}};
  EXPECT_THAT(sensor.validate().error().message(), HasSubstr("400 nm follows 500 nm"));
  sensor.quantum_efficiency.points = {{500, 0.5}, {600, 1.6}};
  EXPECT_THAT(sensor.validate().error().message(), HasSubstr("1.6 at 600 nm"));
}

TEST(Filter, FlanksKeepTheArea) {
  const Filter filter{"R", 640, 100, 20, 0.95};
  double area = 0;
  for (double w = 500.005; w < 800; w += 0.01) area += filter.at(w) * 0.01;
  EXPECT_NEAR(area, filter.equivalent_width_nm(), 1e-3);
  EXPECT_NEAR(filter.at(590), 0.95 / 2, 1e-9);
  EXPECT_EQ(filter.at(579), 0);
  EXPECT_EQ(filter.at(640), 0.95);
}

TEST(Curve, LinesBetweenPoints) {
  const Curve curve{{{400, 0.5}, {500, 0.9}, {900, 0.1}}};
  EXPECT_NEAR(curve.at(450), 0.7, 1e-12);
  EXPECT_NEAR(curve.at(900), 0.1, 1e-12);
  EXPECT_EQ(curve.at(399.9), 0);
  EXPECT_EQ(curve.at(901), 0);
}

}  // namespace
}  // namespace ng::rig
