#include "frame/wcs.h"

#include <gtest/gtest.h>

#include "base/angle.h"

namespace ng {
namespace {

Wcs paper_header() {
  Wcs w;
  w.reference_x = 255;
  w.reference_y = 256;
  w.ra_rad = deg_to_rad(45.83);
  w.dec_rad = deg_to_rad(63.57);
  w.cd_rad = {deg_to_rad(-0.003), 0, 0, deg_to_rad(0.003)};
  return w;
}

// Calabretta & Greisen 2002, section 7.3.1, table of the sample header; their pixels count from 1.
TEST(Wcs, WorkedExampleOfPaperTwo) {
  const Wcs w = paper_header();
  struct Row {
    double x, y, ra_deg, dec_deg;
  };
  for (const Row& row :
       {Row{1, 2, 47.503264, 62.795111}, Row{1, 512, 47.595581, 64.324332}, Row{511, 512, 44.064419, 64.324332}}) {
    const SkyPlace at = w.sky_of({row.x - 1, row.y - 1});
    EXPECT_NEAR(rad_to_deg(at.ra_rad), row.ra_deg, 1e-6);
    EXPECT_NEAR(rad_to_deg(at.dec_rad), row.dec_deg, 1e-6);
    const auto back = w.pixel_of(at);
    ASSERT_TRUE(back);
    EXPECT_NEAR(back->x, row.x - 1, 1e-8);
    EXPECT_NEAR(back->y, row.y - 1, 1e-8);
  }
}

// Values from WCSLIB 7.12 by astropy.wcs 5.2.1 (all_pix2world and all_world2pix, origin 1).
TEST(Wcs, DistortionAsWcslibHasIt) {
  Wcs w;
  w.reference_x = 1999.5;
  w.reference_y = 1499.5;
  w.ra_rad = deg_to_rad(83.82208);
  w.dec_rad = deg_to_rad(-5.39111);
  w.cd_rad = {deg_to_rad(-2.8e-4), deg_to_rad(1e-5), deg_to_rad(1e-5), deg_to_rad(2.8e-4)};
  w.a = {2, {0, 0, 0, 2e-6, -1e-6, 5e-7}};
  w.b = {2, {0, 0, 0, -3e-7, 1.5e-6, 2.5e-6}};
  const SkyPlace at = w.sky_of({0, 0});
  EXPECT_NEAR(rad_to_deg(at.ra_rad), 84.36811046986519, 1e-9);
  EXPECT_NEAR(rad_to_deg(at.dec_rad), -5.828135058137168, 1e-9);
  w.ap = w.bp = {2, {0, 0, 0, 0, 0, 0}};
  const auto p = w.pixel_of({deg_to_rad(84.2), deg_to_rad(-5.7)});
  ASSERT_TRUE(p);
  EXPECT_NEAR(p->x + 1, 616.8418208710913, 1e-5);
  EXPECT_NEAR(p->y + 1, 441.75732293252355, 1e-5);
  EXPECT_NEAR(w.scale_rad() * kArcsecPerRadian, 1.0086426522807768, 1e-9);
}

// WCSLIB at both poles (astropy.wcs 5.2.1), with LONPOLE = 180 stated: without it, a reference at exactly +90 degrees
// would be turned by half a circle (Calabretta & Greisen 2002, section 2.2: the default is 0 there), and RA be 210.
TEST(Wcs, AtThePoles) {
  for (const double side : {-1.0, 1.0}) {
    Wcs w;
    w.reference_x = w.reference_y = 511.5;
    w.ra_rad = deg_to_rad(120);
    w.dec_rad = side * kPi / 2;
    w.cd_rad = {deg_to_rad(-0.01), 0, 0, deg_to_rad(0.01)};
    const SkyPlace at = w.sky_of({611.5, 511.5});
    EXPECT_NEAR(rad_to_deg(at.ra_rad), 30, 1e-10);
    EXPECT_NEAR(rad_to_deg(at.dec_rad), side * 89.00010152058562, 1e-10);
  }
}

TEST(Wcs, NothingBehindTheCamera) {
  EXPECT_FALSE(paper_header().pixel_of({deg_to_rad(45.83 + 180), deg_to_rad(-63.57)}));
}

// A picture with its first row at the top, x to the west and y to the south, shows the sky unmirrored with north up.
TEST(Wcs, TopAndMirror) {
  Wcs w;
  w.cd_rad = {-1e-5, 0, 0, -1e-5};
  EXPECT_FALSE(w.mirrored());
  EXPECT_NEAR(w.top_angle_rad(), 0, 1e-12);
  w.cd_rad = {0, -1e-5, 1e-5, 0};  // x north, y west: the top looks east
  EXPECT_FALSE(w.mirrored());
  EXPECT_NEAR(w.top_angle_rad(), kPi / 2, 1e-12);
  w.cd_rad = {-1e-5, 0, 0, 1e-5};  // x west, y north: the top looks south, in a mirror
  EXPECT_TRUE(w.mirrored());
  EXPECT_NEAR(w.top_angle_rad(), kPi, 1e-12);
}

}  // namespace
}  // namespace ng
