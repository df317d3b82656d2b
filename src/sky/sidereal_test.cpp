#include "sky/sidereal.h"

#include <gtest/gtest.h>

#include "base/angle.h"

namespace ng::sky {
namespace {

// Meeus, Astronomical Algorithms, examples 12.a and 12.b (p. 88, 89): 1987 April 10 at 0h and 19h21m UT. Tolerance
// 0.001 s of time, the last digit printed there.
TEST(Sidereal, MeeusExamples) {
  const double second_deg = 15.0 / 3600;
  EXPECT_NEAR(rad_to_deg(greenwich_sidereal_rad(*Instant::parse("1987-04-10"))), 197.6931951129586, 1e-3 * second_deg);
  EXPECT_NEAR(rad_to_deg(greenwich_sidereal_rad(*Instant::parse("1987-04-10T19:21:00"))), 128.7378732681769,
              1e-3 * second_deg);
}

// On the meridian (hour angle 0) the altitude is 90 - latitude + declination.
TEST(Sidereal, AltitudeOnTheMeridian) {
  const Instant utc = *Instant::parse("2026-01-14T22:00:00");
  const Observer observer{deg_to_rad(46), deg_to_rad(8)};
  const double ra = greenwich_sidereal_rad(utc) + observer.longitude_rad;
  EXPECT_NEAR(hour_angle_rad(ra, observer, utc), 0, 1e-12);
  EXPECT_NEAR(rad_to_deg(altitude_rad(ra, deg_to_rad(5), observer, utc)), 49, 1e-9);
  // A quarter of a sidereal day later it stands west: hour angle +90 degrees.
  EXPECT_NEAR(rad_to_deg(hour_angle_rad(ra, observer, utc.plus_seconds(86164.0905 / 4))), 90, 1e-5);
}

}  // namespace
}  // namespace ng::sky
