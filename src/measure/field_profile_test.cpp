#include "measure/field_profile.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"

namespace ng::measure {
namespace {

// Stars that grow and lengthen towards the right edge, with 2 % of scatter and some galaxies among them.
StarList stars(int n, std::uint64_t seed) {
  math::Random random(seed, 0);
  StarList list{1000, 600, {}};
  for (int i = 0; i < n; ++i) {
    Star s;
    s.x = 1000 * random.uniform();
    s.y = 600 * random.uniform();
    const double along = (s.x - 500) / 500;
    s.fwhm_px = (3 + 0.5 * along) * (1 + 0.02 * random.normal());
    s.fwhm_error_px = 0.03;
    s.eccentricity = 0.4 + 0.2 * along;
    s.angle_rad = 0.5;
    s.flux = 1000;
    s.flux_error = 10;
    if (i % 20 == 7) s.fwhm_px *= 1.8;
    list.stars.push_back(s);
  }
  return list;
}

TEST(FieldProfile, FollowsStarsThatGrowTowardsAnEdge) {
  const FieldProfile field = field_profile(stars(200, 3), Profile::round(3, 4));
  for (const double x : {50.0, 500.0, 950.0}) {
    const double along = (x - 500) / 500;
    const Profile p = field.at(x, 300);
    // 2 % of each of 190 stars, six coefficients: 0.4 % in the middle, about twice that towards the edges.
    EXPECT_NEAR(p.fwhm_px() / (3 + 0.5 * along), 1, 0.02) << x;
    EXPECT_NEAR(p.eccentricity(), 0.4 + 0.2 * along, 0.03) << x;
    EXPECT_NEAR(p.angle_rad(), 0.5, 0.05) << x;
    EXPECT_DOUBLE_EQ(p.beta, 4);
  }
}

TEST(FieldProfile, FewStarsGiveOneShape) {
  const FieldProfile field = field_profile(stars(8, 4), Profile::round(2.5, 4));
  EXPECT_DOUBLE_EQ(field.at(0, 0).fwhm_px(), field.at(1000, 600).fwhm_px());
}

TEST(FieldProfile, WithoutStarsTheTypicalOneStands) {
  const FieldProfile field = field_profile(StarList{1000, 600, {}}, Profile::round(2.5, 4));
  EXPECT_NEAR(field.at(10, 10).fwhm_px(), 2.5, 1e-12);
  EXPECT_NEAR(field.at(10, 10).eccentricity(), 0, 1e-6);
}

}  // namespace
}  // namespace ng::measure
