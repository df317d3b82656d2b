#include "app/calibration_rule.h"

#include <gtest/gtest.h>

namespace ng::app {
namespace {

CalibrationFacts light() {
  return {FrameKind::kLight, "A", "Ha", 100, 80, 1, 1, 300.0, 100.0, 50.0, -10.0, 12.0};
}
CalibrationFacts like_light(FrameKind kind) {
  CalibrationFacts c = light();
  c.kind = kind;
  return c;
}

TEST(CalibrationRule, EachKindHasItsOwn) {
  const CalibrationTolerance t;
  for (const FrameKind kind : {FrameKind::kDark, FrameKind::kBias, FrameKind::kFlat, FrameKind::kDarkFlat})
    EXPECT_EQ(calibration_mismatch(like_light(kind), light(), t), 0u);
  CalibrationFacts dark = like_light(FrameKind::kDark), bias = like_light(FrameKind::kBias),
                   flat = like_light(FrameKind::kFlat);
  dark.exposure_s = bias.exposure_s = flat.exposure_s = 60;
  EXPECT_EQ(calibration_mismatch(dark, light(), t), kOtherExposure);
  EXPECT_EQ(calibration_mismatch(bias, light(), t), 0u);
  EXPECT_EQ(calibration_mismatch(flat, light(), t), 0u);
  dark.temperature_c = flat.temperature_c = 0;
  dark.filter = flat.filter = "L";
  dark.rotation_deg = flat.rotation_deg = 90;
  EXPECT_EQ(calibration_mismatch(dark, light(), t), kOtherExposure | kOtherTemperature);
  EXPECT_EQ(calibration_mismatch(flat, light(), t), kOtherFilter | kOtherRotation);
}

TEST(CalibrationRule, TolerancesAndWhatIsNotStated) {
  CalibrationTolerance t;
  CalibrationFacts dark = like_light(FrameKind::kDark);
  dark.exposure_s = 306;
  dark.temperature_c = -8;
  EXPECT_EQ(calibration_mismatch(dark, light(), t), 0u);
  t.exposure_share = 0.01;
  t.temperature_c = 1;
  EXPECT_EQ(calibration_mismatch(dark, light(), t), kOtherExposure | kOtherTemperature);
  dark = like_light(FrameKind::kDark);
  dark.gain_setting.reset();
  dark.temperature_c.reset();
  dark.camera.clear();
  EXPECT_EQ(calibration_mismatch(dark, light(), t), 0u);
  dark.exposure_s.reset();
  EXPECT_EQ(calibration_mismatch(dark, light(), t), kOtherExposure);
  dark = like_light(FrameKind::kDark);
  dark.camera = "B";
  dark.offset_setting = 60;
  EXPECT_EQ(calibration_mismatch(dark, light(), t), kOtherSensor | kOtherGain);
}

}  // namespace
}  // namespace ng::app
