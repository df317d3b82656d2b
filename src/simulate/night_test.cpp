#include "simulate/night.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstring>
#include <mutex>

#include "base/parallel.h"
#include "simulate/small_night.h"

namespace ng::simulate {
namespace {

bool same(const Image<std::uint16_t>& a, const Image<std::uint16_t>& b) {
  for (int y = 0; y < a.height(); ++y)
    if (std::memcmp(a.plane().row(y), b.plane().row(y), sizeof(std::uint16_t) * static_cast<std::size_t>(a.width())) !=
        0)
      return false;
  return true;
}

// Same seed, same values: for no pool and for pools of 1, 2 and 3 threads, whatever the order. Another seed differs.
TEST(Night, SameBytesForAnyNumberOfThreads) {
  const Scenario s = small_scenario();
  const auto plain = Night::prepare(s, nullptr, {});
  ASSERT_TRUE(plain.ok());
  std::vector<Image<std::uint16_t>> expected;
  for (int i = 0; i < 6; ++i) expected.push_back(take_light(*plain, i));
  expected.push_back(take_calibration(*plain, FrameKind::kDark, 3));
  for (const int threads : {1, 2, 3}) {
    ThreadPool pool(threads);
    Context ctx;
    ctx.pool = &pool;
    const auto night = Night::prepare(s, nullptr, ctx);
    ASSERT_TRUE(night.ok());
    std::vector<Image<std::uint16_t>> frames(7);
    const Result<void> done = parallel_for(ctx, 7, [&](int i) {
      const auto at = static_cast<std::size_t>(6 - i);
      frames[at] = at < 6 ? take_light(*night, static_cast<int>(at)) : take_calibration(*night, FrameKind::kDark, 3);
    });
    ASSERT_TRUE(done.ok());
    for (std::size_t i = 0; i < 7; ++i) EXPECT_TRUE(same(frames[i], expected[i])) << threads << ' ' << i;
  }
  Scenario other = s;
  other.seed = 2;
  const auto night = Night::prepare(other, nullptr, {});
  EXPECT_FALSE(same(take_light(*night, 0), expected[0]));
  EXPECT_FALSE(same(take_calibration(*plain, FrameKind::kDark, 4), expected[6]));
}

// On the noiseless picture: light and place of isolated stars by direct moments, against what the truth says of them.
// A disc of ten pixels holds all but (1 + 100/a^2)^(1 - beta) of the light; neighbours may add 0.2 %.
TEST(Night, StarsStandWhereTheTruthSays) {
  Scenario s = small_scenario(900, 700);
  s.target.nebula_rayleighs = 0;
  s.target.field_stars_per_deg2 = 300;
  const auto night = Night::prepare(s, nullptr, {});
  ASSERT_TRUE(night.ok());
  const BandChannel& band = night->bands()[0][0];
  int checked = 0;
  for (const int light : {0, 5}) {
    const LightPlan& plan = night->lights()[static_cast<std::size_t>(light)];
    const Image<float> image = take_truth(*night, light);
    const double held = 1 - std::pow(1 + 100 / std::pow(plan.profile.core_px(), 2), 1 - plan.profile.beta);
    for (const FieldStar& star : night->stars()) {
      const math::Point p = plan.from_sky.apply({star.xi_arcsec, star.eta_arcsec});
      if (p.x < 15 || p.y < 15 || p.x > 884 || p.y > 684 || star.v_mag > 17) continue;
      const double electrons = band.star_e_s(star.v_mag, star.b_minus_v) * s.exposures.light_s;
      double others = 0;
      for (const FieldStar& o : night->stars()) {
        const math::Point q = plan.from_sky.apply({o.xi_arcsec, o.eta_arcsec});
        if (&o != &star && std::hypot(q.x - p.x, q.y - p.y) < 25)
          others += band.star_e_s(o.v_mag, o.b_minus_v) * s.exposures.light_s;
      }
      if (others > 0.002 * electrons) continue;
      double flux = 0, mx = 0, my = 0;
      for (int y = static_cast<int>(p.y) - 11; y <= static_cast<int>(p.y) + 12; ++y)
        for (int x = static_cast<int>(p.x) - 11; x <= static_cast<int>(p.x) + 12; ++x) {
          if (std::hypot(x - p.x, y - p.y) > 10) continue;
          flux += image.plane()(x, y);
          mx += image.plane()(x, y) * (x - p.x);
          my += image.plane()(x, y) * (y - p.y);
        }
      EXPECT_NEAR(flux / electrons / held, 1, 0.003) << star.v_mag;
      EXPECT_NEAR(mx / flux, 0, 0.01);
      EXPECT_NEAR(my / flux, 0, 0.01);
      ++checked;
    }
  }
  EXPECT_GT(checked, 20);
}

// Without stars the noiseless picture is the nebula of the truth at the place that the transform gives, in every light:
// the same sky from all of them, whatever dither, drift and flip. Single precision.
TEST(Night, NebulaStandsWhereTheTruthSays) {
  Scenario s = small_scenario();
  s.target.field_stars_per_deg2 = 0;
  s.target.cluster_stars = 0;
  s.target.nebula_radius_arcmin = 6;
  const auto night = Night::prepare(s, nullptr, {});
  ASSERT_TRUE(night.ok());
  double brightest = 0;
  for (const int light : {0, 3, 5}) {
    const Image<float> image = take_truth(*night, light);
    const math::PlaneMap to_sky = night->lights()[static_cast<std::size_t>(light)].from_sky.inverse();
    for (int y = 0; y < 240; y += 17)
      for (int x = 0; x < 320; x += 13) {
        const math::Point sky = to_sky.apply({static_cast<double>(x), static_cast<double>(y)});
        const double e = night->nebula_e_s(0, 0, sky.x, sky.y) * s.exposures.light_s;
        EXPECT_NEAR(image.plane()(x, y), e, 1e-5 * e + 1e-4);
        brightest = std::max(brightest, e);
      }
  }
  EXPECT_GT(brightest, 50);
}

// Each pixel of a mosaic night sees through its dye: the picture at a pixel is that of its channel.
TEST(Night, MosaicPixelsSeeTheirColour) {
  Scenario s = with_mosaic_sensor(small_scenario());
  s.target.field_stars_per_deg2 = 0;
  s.target.cluster_stars = 0;
  s.target.nebula_radius_arcmin = 6;
  const auto night = Night::prepare(s, nullptr, {});
  ASSERT_TRUE(night.ok());
  ASSERT_EQ(night->bands()[0].size(), 3u);
  const Image<float> image = take_truth(*night, 1);
  const math::PlaneMap to_sky = night->lights()[1].from_sky.inverse();
  for (int y = 0; y < 40; ++y)
    for (int x = 0; x < 40; ++x) {
      const math::Point sky = to_sky.apply({static_cast<double>(x), static_cast<double>(y)});
      const double e = night->nebula_e_s(0, bayer_plane(BayerPattern::kRggb, x, y), sky.x, sky.y) * s.exposures.light_s;
      EXPECT_NEAR(image.plane()(x, y), e, 1e-5 * e + 1e-4);
    }
  // The four kinds of pixel in a flat: green brightest, all well lit, and nothing saturated.
  const Image<std::uint16_t> flat = take_calibration(*night, FrameKind::kFlat, 1);
  double level[3] = {0, 0, 0};
  for (int y = 100; y < 140; ++y)
    for (int x = 140; x < 180; ++x) level[bayer_plane(BayerPattern::kRggb, x, y)] += flat.plane()(x, y);
  EXPECT_GT(level[1] / 2, level[0]);
  EXPECT_GT(level[1] / 2, level[2]);
}

TEST(Night, StopsWhenAsked) {
  const auto night = Night::prepare(small_scenario(), nullptr, {});
  CancelToken token;
  Context ctx;
  ctx.cancel = &token;
  int bands = 0;
  const auto result = night->render_light(0, ctx, [&](int, View<const std::uint16_t>) -> Result<void> {
    ++bands;
    token.cancel();
    return {};
  });
  EXPECT_EQ(result.error().code(), Code::kCancelled);
  EXPECT_EQ(bands, 1);
}

// What the receiver says against it ends the rendering and comes back.
TEST(Night, PassesOnTheSinksError) {
  const auto night = Night::prepare(small_scenario(), nullptr, {});
  const auto result = night->render_light(
      0, {}, [](int, View<const std::uint16_t>) -> Result<void> { return Error(Code::kIo, "the disk is full"); });
  EXPECT_EQ(result.error().code(), Code::kIo);
}

}  // namespace
}  // namespace ng::simulate
