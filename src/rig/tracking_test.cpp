#include "rig/tracking.h"

#include <gtest/gtest.h>

#include "base/angle.h"

namespace ng::rig {
namespace {

// Earth's rate times the error, evaluated by an independent program: 0.2625161708849757 arcsec/min per arcmin,
// 15.750970253098542 per degree.
TEST(Tracking, PolarDrift) {
  EXPECT_NEAR(polar_drift_arcsec_s(1) * 60, 0.2625161708849757, 1e-6);
  EXPECT_NEAR(polar_drift_arcsec_s(60) * 60, 15.750970253098542, 1e-4);
}

// Hook 1989, JBAA 99, 19, E 5', declination 45, 10 min, 500 mm, 1.5 degrees: 1.17851 um with his rounded constant of
// 45000, 1.17803 um with the derived one.
TEST(Tracking, FieldRotation) {
  const double trail = field_rotation_trail_um(5, deg_to_rad(45.0), 600, 500, 1.5);
  EXPECT_NEAR(trail, 1.1785113019775793, 5e-4 * 1.18);
  EXPECT_NEAR(trail, 1.1780330205712273, 1e-4);
}

// A sine of 20 arcsec from peak to peak in 480 s crosses its middle at 0.1309 arcsec/s: pi 20 / 480.
TEST(Tracking, Periodic) {
  EXPECT_NEAR(periodic_rate_arcsec_s(20, 480), 0.1308996938995747, 1e-12);
}

}  // namespace
}  // namespace ng::rig
