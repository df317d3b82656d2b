#include "plan/object_brightness.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ng::plan {
namespace {

using catalog::ObjectKind;

catalog::SkyObject make(std::vector<std::string> names, ObjectKind kind, double major, double minor,
                        std::optional<double> magnitude) {
  catalog::SkyObject o;
  o.names = std::move(names);
  o.kind = kind;
  o.major_arcmin = major;
  o.minor_arcmin = minor;
  o.magnitude = magnitude;
  return o;
}

// By hand: m + 2.5 log10(pi/4 a b in arcsec^2); 5.7 mag over 70.8 x 41.7 arcmin make 23.1.
TEST(ObjectBrightness, OfItsOwnLight) {
  const auto b = object_brightness(make({"M 33"}, ObjectKind::kGalaxy, 70.8, 41.7, 5.7));
  EXPECT_NEAR(b.mag_arcsec2, 5.7 + 2.5 * std::log10(0.785398 * 70.8 * 41.7 * 3600), 1e-5);
  EXPECT_NEAR(b.mag_arcsec2, 23.0, 0.15);
  EXPECT_FALSE(b.assumed);
}

// A star of 9 mag within a nebula of one degree would make it 26.5 mag/arcsec^2: that magnitude is not the nebula's.
TEST(ObjectBrightness, AStarIsNotANebula) {
  const auto star = object_brightness(make({"NGC 9001", "Some Nebula"}, ObjectKind::kEmissionNebula, 60, 60, 9));
  EXPECT_TRUE(star.assumed);
  EXPECT_EQ(star.mag_arcsec2, 22);
  const auto own = object_brightness(make({"NGC 9001", "Some Nebula"}, ObjectKind::kEmissionNebula, 60, 60, 5.5));
  EXPECT_FALSE(own.assumed);
  EXPECT_NEAR(own.mag_arcsec2, 23.0, 0.1);
}

TEST(ObjectBrightness, WhatNobodyNamedIsTakenForFainter) {
  const auto named = object_brightness(make({"NGC 9001", "Some Nebula"}, ObjectKind::kBrightNebula, 30, 30, {}));
  const auto nameless = object_brightness(make({"NGC 9001"}, ObjectKind::kBrightNebula, 30, 30, {}));
  EXPECT_TRUE(named.assumed && nameless.assumed);
  EXPECT_GT(nameless.mag_arcsec2, named.mag_arcsec2 + 1);
}

}  // namespace
}  // namespace ng::plan
