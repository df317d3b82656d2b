#include "astrometry/solve.h"

#include <gtest/gtest.h>

#include "astrometry/test_sky.h"

namespace ng::astrometry {
namespace {

class Solves : public WithSky {
 protected:
  [[nodiscard]] std::vector<const catalog::SkyFile*> skies() const { return {&sky()}; }
  [[nodiscard]] static Hint anywhere() { return {}; }
};

double apart_px(const Pose& truth, const Wcs& wcs, math::Point p) {
  const math::Angles at = math::to_angles(truth.direction(p));
  const auto q = wcs.pixel_of({at.longitude_rad, at.latitude_rad});
  return q ? std::hypot(q->x - p.x, q->y - p.y) : 1e9;
}

// Every turn, both parities, the poles and the seam of right ascension; a fifth of the detections are strangers. With
// 60 stars and more of 0.2 px the middle is known to 0.2 / sqrt(60) = 0.03 px; 6 sigma is 0.16 px.
TEST_F(Solves, BlindWhereverTheCameraLooks) {
  struct View {
    double ra_deg, dec_deg, turn_deg, scale_arcsec;
    int parity;
  };
  for (const View& v : {View{10, 20, 0, 25, 1}, View{359.99, -30, 77, 25, -1}, View{120, 89.5, 200, 30, 1},
                        View{200, -89.7, 300, 30, -1}, View{80, 5, 130, 60, 1}}) {
    const Pose truth = look(v.ra_deg, v.dec_deg, v.turn_deg, v.scale_arcsec, v.parity);
    const Field field = frame(truth, 0.2, 0, 20, 3);
    const auto s = solve(field, skies(), 2000, anywhere(), {}, {});
    ASSERT_TRUE(s.ok()) << v.ra_deg << ' ' << v.dec_deg << ": " << s.error().message();
    EXPECT_TRUE(s->blind);
    EXPECT_EQ(s->fit.wcs.mirrored(), v.parity < 0);
    EXPECT_LT(apart_px(truth, s->fit.wcs, truth.middle), 0.16);
    EXPECT_LT(apart_px(truth, s->fit.wcs, {0, 0}), 1);
    EXPECT_EQ(s->fit.degree, 1);  // nothing asks for distortion
    // Residuals are those of the centroids: 0.2 px within a quarter.
    EXPECT_NEAR(s->fit.rms_px, 0.2, 0.05);
  }
}

// Distortion of 0.6 per cent is 5 px in the corners: the fit must find it, and use it.
TEST_F(Solves, DistortionIsFoundWhereItIs) {
  const Pose truth = look(150, 40, 33, 40, 1);
  const Field field = frame(truth, 0.15, 0.006, 10, 4);
  const auto s = solve(field, skies(), 2000, anywhere(), {}, {});
  ASSERT_TRUE(s.ok());
  EXPECT_EQ(s->fit.degree, 3);
  EXPECT_NEAR(s->fit.rms_px, 0.15, 0.03);
  // Forward and back agree, and the corner is where it should be: 0.15 px of noise on some 30 stars a quarter.
  const Wcs& wcs = s->fit.wcs;
  const double half = field.diagonal_px() / 2;
  for (const math::Point p : {math::Point{100, 100}, math::Point{1400, 900}, math::Point{749.5, 499.5}}) {
    const double dx = p.x - truth.middle.x, dy = p.y - truth.middle.y;
    const double k = 1 + 0.006 * (dx * dx + dy * dy) / (half * half);
    const math::Angles at = math::to_angles(truth.direction(p));
    const auto q = wcs.pixel_of({at.longitude_rad, at.latitude_rad});
    ASSERT_TRUE(q);
    EXPECT_NEAR(q->x, truth.middle.x + k * dx, 0.3);
    EXPECT_NEAR(q->y, truth.middle.y + k * dy, 0.3);
    const SkyPlace there = wcs.sky_of(*q);
    EXPECT_NEAR(there.dec_rad, at.latitude_rad, 1e-12);
  }
}

TEST_F(Solves, AHintNeedsFewStars) {
  // 0.97 stars a square degree: about 6 on 2.9 x 1.9 degrees.
  int solved = 0, tried = 0;
  for (int i = 0; i < 20; ++i) {
    const Pose truth = look(17.0 * i, 4.0 * i - 40, 31.0 * i, 7, i % 2 == 0 ? 1 : -1);
    const Field field = frame(truth, 0.2, 0, 0, static_cast<std::uint64_t>(i));
    if (field.stars.size() < 5) continue;
    ++tried;
    Hint hint;
    hint.centre = truth.direction({2000, 300});
    hint.radius_rad = deg_to_rad(2.9);
    hint.low_scale_rad = 6.5 / kArcsecPerRadian;
    hint.high_scale_rad = 7.5 / kArcsecPerRadian;
    const auto s = solve(field, skies(), 2000, hint, {}, {});
    if (!s.ok()) continue;
    ++solved;
    EXPECT_LT(apart_px(truth, s->fit.wcs, truth.middle), 3);
  }
  EXPECT_GE(tried, 8);
  EXPECT_GE(solved, tried - 1);
}

TEST_F(Solves, RandomPointsAreNoSky) {
  math::Random random(8, 8);
  for (int i = 0; i < 10; ++i) {
    Field field{1500, 1000, {}};
    for (int k = 0; k < 20 + 10 * i; ++k)
      field.stars.push_back({1500 * random.uniform(), 1000 * random.uniform(), 0.2, 1.0 / (1 + k)});
    const auto s = solve(field, skies(), 2000, anywhere(), {}, {});
    ASSERT_FALSE(s.ok());
    EXPECT_EQ(s.error().code(), Code::kNoMatch);
  }
}

TEST_F(Solves, RefusesTooFewStarsAndAHintOnTheWrongHalfOfTheSky) {
  const Pose truth = look(50, 10, 0, 25, 1);
  Field field = frame(truth, 0.2, 0, 0, 5);
  Hint wrong;
  wrong.centre = math::from_angles(deg_to_rad(230), deg_to_rad(-10));
  wrong.radius_rad = deg_to_rad(5);
  EXPECT_EQ(solve(field, skies(), 2000, wrong, {}, {}).error().code(), Code::kNoMatch);
  field.stars.resize(3);
  EXPECT_EQ(solve(field, skies(), 2000, anywhere(), {}, {}).error().code(), Code::kTooFew);
}

// The errors stated are the errors made: over many frames, off / stated has a spread of 1.
TEST_F(Solves, StatedErrorsAreTheErrorsMade) {
  double centre2 = 0, scale2 = 0;
  int n = 0;
  for (int i = 0; i < 40; ++i) {
    const Pose truth = look(9.0 * i, 3.0 * i - 60, 11.0 * i, 30, 1);
    const Field field = frame(truth, 0.3, 0, 0, static_cast<std::uint64_t>(100 + i));
    const auto s = solve(field, skies(), 2000, anywhere(), {}, {});
    if (!s.ok() || s->fit.degree != 1) continue;
    const double off = apart_px(truth, s->fit.wcs, truth.middle) * truth.scale_rad;
    centre2 += off * off / (2 * s->fit.centre_error_rad * s->fit.centre_error_rad);
    scale2 += std::pow((s->fit.wcs.scale_rad() / truth.scale_rad - 1) / s->fit.scale_error, 2);
    ++n;
  }
  ASSERT_GE(n, 30);
  // 2 n and n degrees of freedom: spreads of sqrt(1/n) and sqrt(2/n), 0.18 and 0.26; three times that.
  EXPECT_NEAR(centre2 / n, 1, 0.55);
  EXPECT_NEAR(scale2 / n, 1, 0.8);
}

}  // namespace
}  // namespace ng::astrometry
