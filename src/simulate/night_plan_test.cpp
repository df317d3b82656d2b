#include "simulate/night_plan.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "base/angle.h"
#include "sky/gnomonic.h"
#include "sky/sidereal.h"

namespace ng::simulate {
namespace {

// A direction projected straight onto the frame's own tangent plane, turned and scaled by the formulas of the header,
// lands where the one homography says: to 1e-7 px over the whole frame.
TEST(NightPlan, TransformAgainstDirectProjection) {
  const Scenario s = built_in_scenario(NightSize::kLarge);
  const auto lights = plan_lights(s);
  ASSERT_TRUE(lights.ok());
  const sky::TangentPlane target({deg_to_rad(s.target.ra_deg), deg_to_rad(s.target.dec_deg)});
  const double k = kArcsecPerRadian / s.scale_arcsec_px();
  for (const LightPlan& light : *lights) {
    const sky::TangentPlane frame({deg_to_rad(light.centre_ra_deg), deg_to_rad(light.centre_dec_deg)});
    for (const double xi : {-2500.0, 300.0, 2600.0})
      for (const double eta : {-1700.0, 0.0, 1600.0}) {
        const auto p = frame.project(target.direction({xi / kArcsecPerRadian, eta / kArcsecPerRadian}));
        const double si = std::sin(light.position_angle_rad), co = std::cos(light.position_angle_rad);
        const math::Point q = light.from_sky.apply({xi, eta});
        EXPECT_NEAR(q.x, (s.camera.sensor.width - 1) / 2.0 + k * (p->eta * si - p->xi * co), 1e-7);
        EXPECT_NEAR(q.y, (s.camera.sensor.height - 1) / 2.0 - k * (p->xi * si + p->eta * co), 1e-7);
      }
  }
}

// A lens draws a corner outwards by its share, and a mirror puts east on the right.
TEST(NightPlan, LensAndMirror) {
  Scenario s = built_in_scenario(NightSize::kSmall);
  const auto flat = plan_lights(s);
  s.camera.distortion = 0.004;
  const auto bent = plan_lights(s);
  s.camera.mirrored = true;
  const auto mirrored = plan_lights(s);
  ASSERT_TRUE(flat.ok() && bent.ok() && mirrored.ok());
  const double cx = (s.camera.sensor.width - 1) / 2.0, cy = (s.camera.sensor.height - 1) / 2.0;
  const math::Point sky = flat->front().from_sky.inverse().apply({0, 0});
  const math::Point p = bent->front().from_sky.apply(sky), q = mirrored->front().from_sky.apply(sky);
  EXPECT_NEAR(p.x, cx - 1.004 * cx, 1e-6);
  EXPECT_NEAR(p.y, cy - 1.004 * cy, 1e-6);
  EXPECT_NEAR(q.x, cx + 1.004 * cx, 1e-6);
  EXPECT_NEAR(q.y, p.y, 1e-6);
}

// North up, east left before the flip; both turned round after it. Never mirrored.
TEST(NightPlan, OrientationAndFlip) {
  Scenario s = built_in_scenario(NightSize::kSmall);
  s.target.position_angle_deg = 0;
  const auto lights = plan_lights(s);
  ASSERT_TRUE(lights.ok());
  for (const LightPlan& light : *lights) {
    const math::Point o = light.from_sky.apply({0, 0}), north = light.from_sky.apply({0, 600}),
                      east = light.from_sky.apply({600, 0});
    EXPECT_EQ(north.y > o.y, light.flipped);
    EXPECT_EQ(east.x > o.x, light.flipped);
    EXPECT_GT((east.x - o.x) * (north.y - o.y) - (east.y - o.y) * (north.x - o.x), 0);
  }
  EXPECT_FALSE(lights->front().flipped);
  EXPECT_TRUE(lights->back().flipped);
}

// The flip comes as the target crosses the meridian, every filter is spread over both sides of it, and lights do not
// overlap in time.
TEST(NightPlan, OrderOfTheNight) {
  const Scenario s = built_in_scenario(NightSize::kSmall);
  const auto lights = plan_lights(s);
  ASSERT_TRUE(lights.ok());
  ASSERT_EQ(static_cast<int>(lights->size()), s.light_count());
  const sky::Observer observer{deg_to_rad(s.site.latitude_deg), deg_to_rad(s.site.longitude_deg)};
  std::vector<int> before(s.filters.size(), 0), count(s.filters.size(), 0);
  for (std::size_t i = 0; i < lights->size(); ++i) {
    const LightPlan& p = (*lights)[i];
    EXPECT_EQ(sky::hour_angle_rad(deg_to_rad(s.target.ra_deg), observer, p.start.plus_seconds(120)) > 0, p.flipped);
    if (i > 0) {
      EXPECT_GE(p.start.seconds_since((*lights)[i - 1].start), s.exposures.light_s);
    }
    before[static_cast<std::size_t>(p.filter)] += !p.flipped;
    EXPECT_EQ(p.number, ++count[static_cast<std::size_t>(p.filter)]);
  }
  for (std::size_t f = 0; f < s.filters.size(); ++f) {
    EXPECT_EQ(count[f], s.filters[f].lights);
    EXPECT_NEAR(before[f], s.filters[f].lights / 2.0, 1);
  }
}

TEST(NightPlan, WhatTheNightBrings) {
  const Scenario s = built_in_scenario(NightSize::kLarge);
  const auto lights = plan_lights(s);
  ASSERT_TRUE(lights.ok());
  int clouded = 0, satellites = 0;
  double least = 1, farthest = 0;
  for (const LightPlan& p : *lights) {
    clouded += p.cloud > 0.05;
    satellites += p.satellite;
    least = std::min(least, p.clearness);
    const math::Point middle = p.from_sky.apply({0, 0});
    farthest = std::max(farthest, std::hypot(middle.x - 2119.5, middle.y - 1415.5));
    EXPECT_GE(p.profile.fwhm_major_px, p.profile.fwhm_minor_px);
    // Within five standard deviations of the scatter asked for.
    const double seeing = p.profile.fwhm_minor_px * s.scale_arcsec_px() / std::pow(p.airmass, 0.6);
    EXPECT_NEAR(std::log(seeing / s.air.fwhm_arcsec), 0, 5 * s.air.fwhm_scatter);
  }
  EXPECT_GE(clouded, 2);
  EXPECT_LE(clouded, 5);
  EXPECT_NEAR(least, 1 - s.air.cloud_depth, 0.1);
  EXPECT_EQ(satellites, 1);
  EXPECT_GT(farthest, s.mount.dither_px / 2);
  EXPECT_LT(farthest, std::sqrt(2.0) * (s.mount.dither_px + 70 + 6));
}

TEST(NightPlan, TargetTooLowIsSaid) {
  Scenario s = built_in_scenario(NightSize::kLarge);
  s.site.latitude_deg = 85;
  ASSERT_FALSE(plan_lights(s).ok());
  EXPECT_THAT(plan_lights(s).error().message(), testing::HasSubstr("NGC 2237 stands"));
}

TEST(NightPlan, BoxHoldsEveryFrame) {
  const Scenario s = built_in_scenario(NightSize::kSmall);
  const auto lights = plan_lights(s);
  const SkyBox box = covered_sky(s, *lights, 0);
  for (const LightPlan& p : *lights)
    for (const math::Point corner : {math::Point{0, 0}, {2999, 0}, {0, 1999}, {2999, 1999}, {1500, 0}, {0, 900}}) {
      const math::Point q = p.from_sky.inverse().apply(corner);
      EXPECT_TRUE(q.x >= box.xi0 && q.x <= box.xi1 && q.y >= box.eta0 && q.y <= box.eta1);
    }
}

}  // namespace
}  // namespace ng::simulate
