#include "astrometry/frame_map.h"

#include <gtest/gtest.h>

#include <cmath>

#include "base/angle.h"

namespace ng::astrometry {
namespace {

Wcs looking_at(double ra_deg, double dec_deg, double turn_deg, double scale_arcsec, bool mirrored) {
  Wcs wcs;
  wcs.reference_x = 740;
  wcs.reference_y = 505;
  wcs.ra_rad = deg_to_rad(ra_deg);
  wcs.dec_rad = deg_to_rad(dec_deg);
  const double s = scale_arcsec / kArcsecPerRadian, c = std::cos(deg_to_rad(turn_deg)),
               d = std::sin(deg_to_rad(turn_deg));
  wcs.cd_rad = {(mirrored ? s : -s) * c, s * d, (mirrored ? s : -s) * d, -s * c};
  return wcs;
}

constexpr FrameSize kSize{1500, 1000};

// Another rig: other scale, turned, mirrored, and a panel beside that shares nothing.
TEST(FrameMap, IsExactBetweenTangentPlanes) {
  const Wcs from = looking_at(83, 85, 10, 3, false);
  for (const Wcs& to :
       {looking_at(83.5, 85.1, 200, 1.2, true), looking_at(40, 83, 77, 9, false), looking_at(83, 80, 0, 3, false)}) {
    const auto map = frame_map(from, kSize, to, kSize);
    ASSERT_TRUE(map.ok());
    EXPECT_LT(map->worst_px, 1e-6);
    for (const math::Point p : {math::Point{0, 0}, {1499, 3}, {700, 999}}) {
      const auto there = carry(from, to, p);
      ASSERT_TRUE(there.has_value());
      const math::Point q = map->homography.apply(p);
      EXPECT_NEAR(q.x, there->x, 1e-6);
      EXPECT_NEAR(q.y, there->y, 1e-6);
    }
  }
}

TEST(FrameMap, OverlapIsTheShareOfTheFirst) {
  const Wcs from = looking_at(83, 0, 0, 3, false);
  // 375 of 1500 pixels of 3 arcsec further east.
  const auto map = frame_map(from, kSize, looking_at(83 + 375 * 3 / 3600.0, 0, 0, 3, false), kSize);
  EXPECT_NEAR(map->overlap_share, 0.75, 1.0 / 32);  // 32 cells a side
  EXPECT_EQ(frame_map(from, kSize, looking_at(83, 5, 0, 3, false), kSize)->overlap_share, 0);
  EXPECT_FALSE(frame_map(from, kSize, looking_at(263, 0, 0, 3, false), kSize).ok());
}

// A lens that moves a corner by some 7 pixels: the best homography does better, and says how well.
TEST(FrameMap, SaysHowFarDistortionLeavesIt) {
  const Wcs from = looking_at(83, 20, 10, 3, false);
  Wcs to = looking_at(83.02, 20.01, 12, 3, false);
  to.a.order = to.b.order = 3;
  to.a.coefficients.assign(PlanePolynomial::count(3), 0);
  to.b.coefficients = to.a.coefficients;
  const double k = 7 / std::pow(900, 3);
  to.a.coefficients[PlanePolynomial::index(3, 0)] = to.a.coefficients[PlanePolynomial::index(1, 2)] = k;
  to.b.coefficients[PlanePolynomial::index(0, 3)] = to.b.coefficients[PlanePolynomial::index(2, 1)] = k;
  const auto map = frame_map(from, kSize, to, kSize);
  ASSERT_TRUE(map.ok());
  EXPECT_GT(map->worst_px, 0.5);
  EXPECT_LT(map->worst_px, 7);
  const auto there = carry(from, to, {749.5, 499.5});
  const math::Point q = map->homography.apply({749.5, 499.5});
  EXPECT_LT(std::hypot(q.x - there->x, q.y - there->y), map->worst_px + 1e-9);
}

}  // namespace
}  // namespace ng::astrometry
