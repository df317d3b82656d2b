#include "sky/gnomonic.h"

#include <gtest/gtest.h>

#include "base/angle.h"

namespace ng::sky {
namespace {

// Degrees in, degrees out. Expected values by ERFA (function tpxes): an ordinary field, one across RA 0, one near the
// south pole.
TEST(Gnomonic, AgainstErfa) {
  struct Case {
    double ra, dec, ra0, dec0, xi, eta;
  };
  for (const Case& c : {Case{84.0, -5.0, 83.82208, -5.39111, 0.17724765293364214, 0.3910920888180835},
                        Case{359.9, 41.0, 0.1, 41.5, -0.150947876960321, -0.49983984481386},
                        Case{10, -89.5, 100, -89, -0.5000888587345533, -1.000101551513696}}) {
    const TangentPlane plane({deg_to_rad(c.ra0), deg_to_rad(c.dec0)});
    const auto p = plane.project({deg_to_rad(c.ra), deg_to_rad(c.dec)});
    ASSERT_TRUE(p);
    EXPECT_NEAR(rad_to_deg(p->xi), c.xi, 1e-12);
    EXPECT_NEAR(rad_to_deg(p->eta), c.eta, 1e-12);
    const Direction back = plane.direction(*p);
    EXPECT_NEAR(rad_to_deg(back.ra_rad), c.ra, 1e-12);
    EXPECT_NEAR(rad_to_deg(back.dec_rad), c.dec, 1e-12);
  }
}

// Test values of ERFA's own suite for tpsts (plane to sky).
TEST(Gnomonic, InverseAgainstErfa) {
  const Direction d = TangentPlane({2.3, 1.5}).direction({-0.03, 0.07});
  EXPECT_NEAR(d.ra_rad, 0.7596127167359629775, 1e-13);
  EXPECT_NEAR(d.dec_rad, 1.540864645109263028, 1e-13);
}

TEST(Gnomonic, NothingBehindThePlane) {
  EXPECT_FALSE(TangentPlane({0, 0}).project({kPi, 0}));
}

TEST(Gnomonic, PlaneToPlane) {
  const TangentPlane a({1.70, 0.086}), b({1.705, 0.09});
  const auto m = b.from(a);
  const Direction d{1.71, 0.08};
  const PlanePoint pa = *a.project(d), pb = *b.project(d);
  const double w = m[6] * pa.xi + m[7] * pa.eta + m[8];
  EXPECT_NEAR((m[0] * pa.xi + m[1] * pa.eta + m[2]) / w, pb.xi, 1e-15);
  EXPECT_NEAR((m[3] * pa.xi + m[4] * pa.eta + m[5]) / w, pb.eta, 1e-15);
}

}  // namespace
}  // namespace ng::sky
