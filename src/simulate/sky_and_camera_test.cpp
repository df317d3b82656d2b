// What fills the sky and what the camera does to it: star counts, bands, defects, intruders, the smooth surface.
#include <gtest/gtest.h>

#include <cmath>
#include <numeric>

#include "base/angle.h"
#include "simulate/small_night.h"
#include "simulate/spline_grid.h"

namespace ng::simulate {
namespace {

// Numbers drawn against the luminosity function of the header: Poisson errors, five of them.
TEST(StarField, CountsFollowTheLuminosityFunction) {
  Scenario s = built_in_scenario(NightSize::kSmall);
  s.target.cluster_stars = 0;
  const SkyBox box{-3600, 3600, -3600, 3600};  // 4 square degrees
  const auto stars = draw_star_field(s, box, nullptr);
  const auto model = [&](double v) {
    return 4 * s.target.field_stars_per_deg2 * std::pow(10.0, 0.36 * (v - 15) - 0.009 * (v - 15) * (v - 15));
  };
  for (const double faint : {10.0, 13.0, 15.0, 17.0, 19.5}) {
    const auto count = std::count_if(stars.begin(), stars.end(), [&](const FieldStar& t) { return t.v_mag < faint; });
    const double expected = model(faint) - model(6);
    EXPECT_NEAR(static_cast<double>(count), expected, 5 * std::sqrt(expected)) << faint;
  }
  for (std::size_t i = 1; i < stars.size(); ++i) ASSERT_LE(stars[i - 1].v_mag, stars[i].v_mag);
  for (const FieldStar& t : stars) {
    ASSERT_TRUE(t.xi_arcsec >= box.xi0 && t.xi_arcsec <= box.xi1 && t.eta_arcsec >= box.eta0 &&
                t.eta_arcsec <= box.eta1);
    ASSERT_TRUE(t.v_mag <= 19.5 + 1e-9);
  }
}

// One magnitude of optical depth at H-alpha dims what lies behind by 1.22 x 1.086 = 1.325 mag in V and reddens it by
// 0.427; the cluster and bright stars stand in front.
TEST(StarField, DustDimsWhatLiesBehind) {
  NebulaMaps maps;
  maps.step_arcsec = 10;
  maps.dust = Image<float>(4, 4, 1, 0.0f);
  maps.dust.plane()(2, 1) = 1;
  std::vector<FieldStar> stars{{0, 0, 20, 10, 11.0, 0.5, StarOrigin::kField},
                               {0, 0, 21, 9, 14.0, 0.5, StarOrigin::kField},
                               {0, 0, 20, 10, 14.1, 0.5, StarOrigin::kCluster},
                               {0, 0, 0, 10, 14.2, 0.5, StarOrigin::kField},
                               {0, 0, 900, 10, 14.3, 0.5, StarOrigin::kField}};
  redden_behind_dust(maps, stars);
  EXPECT_EQ(stars[0].v_mag, 11.0);
  EXPECT_EQ(stars[1].v_mag, 14.1);
  EXPECT_EQ(stars[2].v_mag, 14.2);
  EXPECT_EQ(stars[3].v_mag, 14.3);
  EXPECT_NEAR(stars[4].v_mag, 15.325, 0.001);
  EXPECT_NEAR(stars[4].b_minus_v, 0.927, 0.001);
}

// A star in the middle of a frame at the zenith, by hand from the published signal formula: narrow band at 550 nm.
TEST(Bands, StarAndLineRates) {
  Scenario s = small_scenario();
  s.filters[0].filter = {"V", 550, 2, 0, 0.9};
  const BandChannel c = make_bands(s)[0][0];
  const double area = kPi / 4 * 13 * 13, qe = 0.87, air = std::pow(10.0, -0.4 * c.extinction_mag_airmass);
  EXPECT_NEAR(c.star_e_s(10, 0.65) / (996.2 * 20 * area * 0.92 * 0.9 * qe * 1e-4 * air), 1, 2e-3);
  EXPECT_NEAR(c.sky_e_s / (996.2 * 20 * area * 0.92 * 0.9 * qe * std::pow(s.scale_arcsec_px(), 2) *
                           std::pow(10.0, -0.4 * s.site.sky_mag_arcsec2)),
              1, 2e-3);
  EXPECT_EQ(c.h_alpha_e_s, 0);  // no line within 549..551 nm
  EXPECT_EQ(c.oxygen_e_s, 0);
  s.filters[0].filter = {"O", 500.7, 3, 0, 0.9};  // holds 500.68 nm alone
  const BandChannel o = make_bands(s)[0][0];
  const double sr = std::pow(s.scale_arcsec_px() / kArcsecPerRadian, 2);
  const double expected = 1e6 / (4 * kPi) * area * 0.92 * 0.9 * s.camera.sensor.quantum_efficiency.at(500.68) * sr *
                          std::pow(10.0, -0.4 * o.extinction_mag_airmass);
  EXPECT_NEAR(o.oxygen_e_s / expected, 1, 1e-9);
  EXPECT_EQ(o.h_alpha_e_s, 0);
  // One airmass more takes k magnitudes.
  EXPECT_NEAR(band_transparency(o, 2, 1), std::pow(10.0, -0.4 * o.extinction_mag_airmass), 1e-12);
}

TEST(CameraMaps, DefectsAreListedAndInTheMaps) {
  const Scenario s = small_scenario(600, 400);
  const auto maps = make_camera_maps(s, {});
  ASSERT_TRUE(maps.ok());
  const double ordinary = s.camera.sensor.dark_rate_e_s(s.camera.temperature_c);
  // Of a log-normal tail of median 25 ordinary dark currents and width 1.3, 76 % lie above ten of them.
  const double planned = s.camera.hot_pixels * 600 * 400;
  const double share = 0.5 * std::erfc((std::log(10) - std::log(25)) / 1.3 / std::sqrt(2.0));
  EXPECT_NEAR(static_cast<double>(maps->hot.size()), planned * share, 5 * std::sqrt(planned));
  for (const HotPixel& h : maps->hot) {
    EXPECT_FLOAT_EQ(maps->dark_e_s.plane()(h.x, h.y), static_cast<float>(h.rate_e_s));
    EXPECT_GT(h.rate_e_s, 10 * ordinary);
  }
  for (const ColdPixel& c : maps->cold) EXPECT_LT(maps->response[0].plane()(c.x, c.y), 0.8);
  EXPECT_FALSE(maps->cold.empty());
  // Glow: strongest in its corner, nothing in the opposite one.
  EXPECT_NEAR(maps->dark_e_s.plane()(599, 399), s.camera.glow_e_s, 0.3 * s.camera.glow_e_s + 5 * ordinary);
  EXPECT_LT(maps->mean_response[0], 1);
  EXPECT_NEAR(maps->mean_response[0], maps->median_response[0], 0.05);
}

TEST(CameraMaps, VignettingAndDust) {
  EXPECT_EQ(vignetting(0.22, 0), 1);
  EXPECT_NEAR(vignetting(0.22, 1), 0.78, 1e-12);
  const DustShadow d{0, 0, 50, 15, 0.08, -1};
  EXPECT_NEAR(dust_transmission(d, 0), 1 - 0.08 * 0.4, 1e-12);
  EXPECT_NEAR(dust_transmission(d, 33), 1 - 0.08, 1e-12);
  EXPECT_EQ(dust_transmission(d, 70), 1);
}

// A ray that ends inside the frame leaves all its charge, whole or in bands of rows.
TEST(Intruders, RaysLeaveTheirCharge) {
  const Scenario s = small_scenario(300, 300);
  std::vector<CosmicRay> inside;
  for (const CosmicRay& hit : draw_cosmic_rays(s, 7, 2e5))
    if (std::min({hit.x0, hit.x1, hit.y0, hit.y1}) > 1 && std::max({hit.x0, hit.x1, hit.y0, hit.y1}) < 298)
      inside.push_back(hit);
  ASSERT_GT(inside.size(), 30u);
  Image<float> whole(300, 300, 1, 0.0f), bands(300, 300, 1, 0.0f);
  add_cosmic_rays(inside, 0, whole.plane());
  for (int y0 = 0; y0 < 300; y0 += 50) add_cosmic_rays(inside, y0, bands.plane().rows(y0, 50));
  double sum = 0, sum_bands = 0;
  for (int y = 0; y < 300; ++y)
    for (int x = 0; x < 300; ++x) {
      sum += whole.plane()(x, y);
      sum_bands += bands.plane()(x, y);
    }
  const double charge = std::accumulate(inside.begin(), inside.end(), 0.0,
                                        [](double a, const CosmicRay& hit) { return a + hit.electrons; });
  EXPECT_NEAR(sum / charge, 1, 1e-5);
  EXPECT_NEAR(sum_bands / charge, 1, 1e-5);
}

// Number of hits: rate x area x time, Poisson.
TEST(Intruders, RaysComeAtTheirRate) {
  const Scenario s = built_in_scenario(NightSize::kLarge);
  const double mean = 1.2 * (4240 * 4.2e-4) * (2832 * 4.2e-4) * 5;
  double count = 0;
  for (std::uint32_t frame = 0; frame < 200; ++frame)
    count += static_cast<double>(draw_cosmic_rays(s, frame, 300).size());
  EXPECT_NEAR(count / 200, mean, 5 * std::sqrt(mean / 200));
}

TEST(Intruders, SatelliteIsAGaussianLine) {
  const SatelliteTrail trail{0, 50, 200, 50, 1.5, 100};
  Image<float> rows(100, 100, 1, 0.0f);
  add_satellite(trail, 0, rows.plane());
  for (const int x : {3, 60}) {
    EXPECT_NEAR(rows.plane()(x, 50), 100, 1e-3);
    EXPECT_NEAR(rows.plane()(x, 53), 100 * std::exp(-2.0), 1e-3);
    EXPECT_EQ(rows.plane()(x, 60), 0);
  }
}

// A uniform cubic B-spline reproduces straight lines exactly, and x^2 with a constant of 1/3 node^2 added (de Boor).
TEST(SplineGrid, ReproducesLinesAndParabolas) {
  Image<float> line(12, 10), parabola(12, 10);
  for (int y = 0; y < 10; ++y)
    for (int x = 0; x < 12; ++x) {
      line.plane()(x, y) = static_cast<float>(3 + 2 * x - 0.5 * y);
      parabola.plane()(x, y) = static_cast<float>(x * x);
    }
  const SplineGrid l(std::move(line), -100, 50, 10), p(std::move(parabola), 0, 0, 1);
  for (const double u : {2.0, 3.3, 5.75, 8.9})
    for (const double v : {2.1, 4.5, 6.99}) {
      EXPECT_NEAR(l.at(-100 + 10 * u, 50 + 10 * v), 3 + 2 * u - 0.5 * v, 2e-5);
      EXPECT_NEAR(p.at(u, v), u * u + 1.0 / 3, 2e-4);
    }
  EXPECT_NEAR(p.at(-1000, 4), 0, 1e-6);  // outside: the nearest edge node
}

}  // namespace
}  // namespace ng::simulate
