#include "plan/panels.h"

#include <gtest/gtest.h>

#include <cmath>

#include "base/angle.h"
#include "math/random.h"
#include "plan/candidates.h"
#include "sky/coordinates.h"

namespace ng::plan {
namespace {

Field field(double ra_deg, double dec_deg, double pa_deg, double width_deg, double height_deg) {
  return {{deg_to_rad(ra_deg), deg_to_rad(dec_deg)}, deg_to_rad(pa_deg), deg_to_rad(width_deg), deg_to_rad(height_deg)};
}

// North up: the upper edge lies north, the right edge west. Turned by 90 degrees, up is east.
TEST(Field, Orientation) {
  const Field plain = field(100, 20, 0, 2, 1);
  EXPECT_NEAR(rad_to_deg(plain.at(0, 1).dec_rad), 20.5, 1e-9);
  EXPECT_LT(plain.at(1, 0).ra_rad, plain.centre.ra_rad);
  const Field turned = field(100, 20, 90, 2, 1);
  EXPECT_GT(turned.at(0, 1).ra_rad, turned.centre.ra_rad);
  EXPECT_NEAR(rad_to_deg(sky::position_angle_rad(turned.centre, turned.at(0, 1))), 90, 1e-9);
  EXPECT_TRUE(plain.holds(plain.at(0.999, -0.999)));
  EXPECT_FALSE(plain.holds(plain.at(1.001, 0)));
  EXPECT_FALSE(plain.holds({plain.centre.ra_rad + kPi, -plain.centre.dec_rad}));
}

// The sides of a field are 2 atan of the half tangents: the great circle between the middles of two sides.
TEST(Field, SizeOnTheSphere) {
  const Field f = field(10, 75, 33, 3, 2);
  EXPECT_NEAR(rad_to_deg(sky::separation_rad(f.at(-1, 0), f.at(1, 0))), 3, 1e-9);
  EXPECT_NEAR(rad_to_deg(sky::separation_rad(f.at(0, -1), f.at(0, 1))), 2, 1e-9);
}

// Nothing of the whole is left between panels, near the pole and across 0 h too: 4000 places drawn inside the outline.
TEST(Panels, LeaveNothingOut) {
  math::Random random(3, 0);
  for (const auto& [ra, dec, pa] : {std::tuple{83.0, -5.0, 0.0}, {359.8, 41.0, 120.0}, {20.0, 86.0, 45.0}}) {
    const Mosaic m{field(ra, dec, pa, 3, 2), 4, 3, 0.1};
    const auto panels = *panels_of(m);
    ASSERT_EQ(panels.size(), 12u);
    // The whole: 3 + 3 x 2.7 by 2 + 2 x 1.8 degrees, taken a little smaller since its rows come closer away from the
    // middle.
    const Field whole = field(ra, dec, pa, 11.0, 5.5);
    for (int i = 0; i < 4000; ++i) {
      const sky::Direction d = whole.at(2 * random.uniform() - 1, 2 * random.uniform() - 1);
      bool held = false;
      for (const Panel& p : panels) held = held || p.field.holds(d);
      ASSERT_TRUE(held) << ra << ' ' << dec << ' ' << rad_to_deg(d.ra_rad) << ' ' << rad_to_deg(d.dec_rad);
    }
  }
}

// Neighbours in the middle row overlap by what was asked for: centres 2.7 degrees apart for fields of 3 with 10 %.
TEST(Panels, OverlapAndOrder) {
  const auto panels = *panels_of({field(100, 0, 0, 3, 2), 3, 1, 0.1});
  EXPECT_NEAR(rad_to_deg(sky::separation_rad(panels[0].field.centre, panels[1].field.centre)), 2.7, 1e-9);
  EXPECT_LT(panels[0].field.centre.ra_rad, panels[1].field.centre.ra_rad);  // the west culminates first
  EXPECT_EQ(panels[0].column, 3);                                           // and stands on the right
}

TEST(Panels, Refusals) {
  EXPECT_FALSE(panels_of({field(0, 0, 0, 0, 2), 1, 1, 0.1}).ok());
  EXPECT_FALSE(panels_of({field(0, 0, 0, 2, 2), 0, 1, 0.1}).ok());
  EXPECT_FALSE(panels_of({field(0, 0, 0, 2, 2), 1, 1, 1.0}).ok());
  EXPECT_FALSE(panels_of({field(0, 0, 0, 50, 50), 9, 9, 0.1}).ok());
}

TEST(Panels, HowManyAlongASide) {
  EXPECT_EQ(panels_along(1.0, 1.0, 0.1), 1);
  EXPECT_EQ(panels_along(1.9, 1.0, 0.1), 2);  // 1 + 0.9
  EXPECT_EQ(panels_along(1.91, 1.0, 0.1), 3);
}

}  // namespace
}  // namespace ng::plan
