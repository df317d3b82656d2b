#include "measure/stars.h"

#include <gtest/gtest.h>

#include <limits>

#include "base/parallel.h"
#include "math/robust.h"
#include "measure/half_flux.h"
#include "measure/test_scene.h"

namespace ng::measure {
namespace {

using test::Scene;
using test::TrueStar;

// A near-Gaussian profile of the given sigma: beta 50 differs from a Gaussian by less than 1 % of the peak anywhere.
Profile gaussian_like(double sigma) {
  return Profile::round(2.3548200450309493 * sigma, 50);
}

const Star* nearest(const StarList& list, const TrueStar& t, double within) {
  const Star* best = nullptr;
  for (const Star& s : list.stars) {
    const double d = std::hypot(s.x - t.x, s.y - t.y);
    if (d < within) {
      best = &s;
      within = d;
    }
  }
  return best;
}

struct Scatter {
  double rms = 0;   // of the position, per axis
  double pull = 0;  // rms of (measured - true) / stated error
  double flux_ratio = 0;
  double flux_pull = 0;
  int found = 0;
};

Scatter compare(const Scene& scene, const FrameMeasure& m) {
  Scatter s;
  for (const TrueStar& t : scene.stars) {
    const Star* star = nearest(m.list, t, 2);
    if (star == nullptr) continue;
    ++s.found;
    s.rms += (std::pow(star->x - t.x, 2) + std::pow(star->y - t.y, 2)) / 2;
    s.pull += (std::pow((star->x - t.x) / star->x_error, 2) + std::pow((star->y - t.y) / star->y_error, 2)) / 2;
    s.flux_ratio += star->flux / t.flux;
    s.flux_pull += std::pow((star->flux - t.flux) / star->flux_error, 2);
  }
  s.rms = std::sqrt(s.rms / s.found);
  s.pull = std::sqrt(s.pull / s.found);
  s.flux_ratio /= s.found;
  s.flux_pull = std::sqrt(s.flux_pull / s.found);
  return s;
}

// Outside bound: Cramer & Rao, as evaluated for astrometry by Mendez et al. 2013 (PASP 125, 580). 900 stars per case:
// the scatter itself is known to 1.7 %.
TEST(Stars, CentroidsReachTheBoundBetweenSnr10And1000) {
  const double sky = 200, read = 4;
  for (const Profile& profile : {Profile::round(3.0, 3.5), Profile::round(2.2, 2.8), gaussian_like(1.5)}) {
    for (const double flux : {900.0, 3000.0, 12000.0, 100000.0, 1100000.0}) {
      const double snr = test::flux_snr(profile, flux, sky, read);
      if (snr < 9.5) continue;
      const Scene scene = test::star_grid(30, 30, 40, profile, flux, sky, read, static_cast<std::uint64_t>(flux));
      const auto m = measure_frame(scene.image.plane(), {}, {});
      ASSERT_TRUE(m.ok());
      const Scatter s = compare(scene, *m);
      EXPECT_GT(s.found, 0.97 * 900) << snr;
      const double bound = test::position_bound(profile, flux, sky, read);
      EXPECT_LT(s.rms / bound, 1.15) << "SNR " << snr << " beta " << profile.beta;
      EXPECT_NEAR(s.pull, 1, 0.15) << "SNR " << snr << " beta " << profile.beta;
      RecordProperty("bound_ratio_snr_" + std::to_string(static_cast<int>(snr)), std::to_string(s.rms / bound));
      std::printf("fwhm %.2f beta %4.1f SNR %6.1f: scatter / bound %.3f, pull %.3f, flux ratio %.4f, flux pull %.3f\n",
                  profile.fwhm_px(), profile.beta, snr, s.rms / bound, s.pull, s.flux_ratio, s.flux_pull);
    }
  }
}

// FWHM, shape and flux of bright stars against truth.
// The brightest alone are looked for at half size, where there are plenty, and fitted as they are: the same stars with
// the same values as among all, sharp and wide, but for a few at the edge of the choice.
TEST(Stars, TheBrightestAreTheSameAmongAllAndAlone) {
  for (const double fwhm : {2.0, 3.0, 5.5}) {
    Image<float> image(901, 700, 1, 300.0f);
    math::Random random(6, 6);
    for (int k = 0; k < 260; ++k)
      test::add_star(image.plane(), Profile::round(fwhm, 3.5),
                     {901 * random.uniform(), 700 * random.uniform(), 4000 * std::exp(4 * random.uniform())}, 20);
    test::add_noise(image.plane(), 4, 2);
    MeasureOptions some;
    some.max_stars = 30;
    const auto all = measure_frame(image.plane(), {}, {}), few = measure_frame(image.plane(), some, {});
    ASSERT_TRUE(all.ok() && few.ok());
    ASSERT_GT(all->list.stars.size(), 180u);
    ASSERT_GT(few->list.stars.size(), 26u);
    EXPECT_NEAR(few->profile.fwhm_px(), all->profile.fwhm_px(), 0.02 * fwhm);
    int single = 0, same = 0, bright = 0;
    for (const Star& s : few->list.stars) {
      if (s.flags != 0) continue;  // a pair may be taken for one or for two
      ++single;
      const Star* other = nearest(all->list, {s.x, s.y, s.flux}, 0.3);
      same += static_cast<int>(other != nullptr && std::fabs(other->flux / s.flux - 1) < 0.03);
      bright += static_cast<int>(other != nullptr && other < &all->list.stars[36]);
    }
    EXPECT_GT(single, 15) << fwhm;
    EXPECT_GE(same, 0.9 * single) << fwhm;
    EXPECT_GE(bright, 0.9 * single) << fwhm;
  }
}

TEST(Stars, WidthShapeAndFlux) {
  const double c = std::cos(0.5), s = std::sin(0.5);
  const Profile base = Profile::round(3.2, 3.5);
  const double a = base.cxx / 1.2, b = base.cxx * 1.2;  // axis ratio 1 / 1.2
  const Profile tilted{a * c * c + b * s * s, a * s * s + b * c * c, (a - b) * c * s, 3.5};
  const Scene scene = test::star_grid(10, 10, 60, tilted, 200000, 100, 3, 1);
  const auto m = measure_frame(scene.image.plane(), {}, {});
  ASSERT_TRUE(m.ok());
  EXPECT_NEAR(m->quality.fwhm_px, tilted.fwhm_px(), 0.01 * tilted.fwhm_px());
  EXPECT_NEAR(m->quality.eccentricity, tilted.eccentricity(), 0.02);
  EXPECT_NEAR(m->profile.angle_rad(), 0.5, 0.03);
  EXPECT_NEAR(m->profile.beta, 3.5, 0.15);
  EXPECT_NEAR(m->quality.background, 100, 0.5);
  EXPECT_NEAR(m->quality.noise, std::sqrt(100 + 9), 0.3);
  const Scatter scatter = compare(scene, *m);
  EXPECT_NEAR(scatter.flux_ratio, 1, 0.01);
}

// Half-flux radius of pixel-integrated Gaussians: photutils 1.6, exact apertures (check I07).
TEST(HalfFlux, PixelIntegratedGaussians) {
  for (const auto& [sigma, expected] :
       {std::pair{0.8, 1.039413311846609}, std::pair{1.5, 1.8324775268443114}, std::pair{2.5, 2.9799251877941138}}) {
    Image<float> image(41, 41);
    const auto cdf = [](double t) { return 0.5 * std::erf(t / std::sqrt(2.0)); };
    for (int y = 0; y < 41; ++y)
      for (int x = 0; x < 41; ++x)
        image.plane()(x, y) = static_cast<float>(1e4 * (cdf((x + 0.5 - 20.3) / sigma) - cdf((x - 0.5 - 20.3) / sigma)) *
                                                 (cdf((y + 0.5 - 19.6) / sigma) - cdf((y - 0.5 - 19.6) / sigma)));
    for (const double guess : {0.3, 1.5, 8.0, 15.0})
      EXPECT_NEAR(half_flux_radius(image.plane(), 20.3, 19.6, 0, 1e4, guess, 15), expected, 2e-4) << sigma << guess;
    EXPECT_EQ(half_flux_radius(image.plane(), 20.3, 19.6, 0, 1e4, 0.5, 0.8), 0) << sigma;  // not found so near
  }
}

TEST(Stars, PairsAreSeparatedAndSaturatedOnesFlagged) {
  const Profile p = Profile::round(3, 3.5);
  Image<float> image(200, 200, 1, 100.0f);
  for (const TrueStar& t : {TrueStar{50, 50, 40000}, TrueStar{56.3, 52, 25000}, TrueStar{120, 60, 2e6},
                            TrueStar{150, 150, 60000}, TrueStar{40, 150, 80000}, TrueStar{100, 150, 50000}})
    test::add_star(image.plane(), p, t, 40);
  test::add_noise(image.plane(), 3, 5);
  for (int y = 0; y < 200; ++y)
    for (int x = 0; x < 200; ++x) image.plane()(x, y) = std::min(image.plane()(x, y), 60000.0f);
  MeasureOptions options;
  options.saturation = 60000;
  const auto m = measure_frame(image.plane(), options, {});
  ASSERT_TRUE(m.ok());
  const Star* a = nearest(m->list, {50, 50, 0}, 0.3);
  const Star* b = nearest(m->list, {56.3, 52, 0}, 0.3);
  ASSERT_TRUE(a != nullptr && b != nullptr);
  EXPECT_TRUE(a->has(kStarBlended) && b->has(kStarBlended));
  const Star* bright = nearest(m->list, {120, 60, 0}, 0.5);
  ASSERT_NE(bright, nullptr);
  EXPECT_TRUE(bright->has(kStarSaturated));
  EXPECT_NEAR(bright->flux, 2e6, 0.1 * 2e6);  // from the wings alone
  EXPECT_FALSE(nearest(m->list, {150, 150, 0}, 0.3)->has(kStarSaturated));
}

TEST(Stars, HotPixelsAndCosmicRaysAreNoStars) {
  Scene scene = test::star_grid(8, 8, 40, Profile::round(2.4, 3), 30000, 150, 3, 8);
  math::Random random(1, 1);
  std::vector<TrueStar> hot;
  for (int k = 0; k < 60; ++k) {
    const TrueStar h{std::floor(300 * random.uniform()) + 25, std::floor(300 * random.uniform()) + 25, 0};
    scene.image.plane()(static_cast<int>(h.x), static_cast<int>(h.y)) += 3000;
    hot.push_back(h);
  }
  const auto m = measure_frame(scene.image.plane(), {}, {});
  ASSERT_TRUE(m.ok());
  int taken = 0;
  for (const TrueStar& h : hot) {
    bool near_star = false;
    for (const TrueStar& t : scene.stars) near_star = near_star || std::hypot(t.x - h.x, t.y - h.y) < 8;
    if (!near_star && nearest(m->list, h, 1.5) != nullptr) ++taken;
  }
  EXPECT_EQ(taken, 0);
}

TEST(Stars, EmptySkyFlatFramesAndNan) {
  Image<float> sky(300, 200, 1, 500.0f);
  test::add_noise(sky.plane(), 3, 4);
  const auto empty = measure_frame(sky.plane(), {}, {});
  ASSERT_TRUE(empty.ok());
  EXPECT_LE(empty->list.stars.size(), 2u);

  const Image<float> constant(300, 200, 1, 7.0f);
  const auto flat = measure_frame(constant.plane(), {}, {});
  ASSERT_TRUE(flat.ok());
  EXPECT_TRUE(flat->list.stars.empty());

  const Image<float> nothing(100, 100, 1, std::numeric_limits<float>::quiet_NaN());
  EXPECT_EQ(measure_frame(nothing.plane(), {}, {}).error().code(), Code::kTooFew);

  Scene scene = test::star_grid(6, 6, 40, Profile::round(3, 3.5), 30000, 150, 3, 8);
  for (int y = 0; y < 60; ++y)
    for (int x = 0; x < 280; ++x) scene.image.plane()(x, y) = std::numeric_limits<float>::quiet_NaN();
  const auto partly = measure_frame(scene.image.plane(), {}, {});
  ASSERT_TRUE(partly.ok());
  EXPECT_GE(partly->quality.good_stars, 28);
}

TEST(Stars, SameBitsForAnyPool) {
  const Scene scene = test::star_grid(12, 12, 40, Profile::round(3, 3.5), 8000, 150, 3, 8);
  const auto reference = measure_frame(scene.image.plane(), {}, {});
  for (const int threads : {1, 2, 3, 8}) {
    ThreadPool pool(threads);
    Context ctx;
    ctx.pool = &pool;
    const auto m = measure_frame(scene.image.plane(), {}, ctx);
    ASSERT_EQ(m->list.stars.size(), reference->list.stars.size());
    for (std::size_t i = 0; i < m->list.stars.size(); ++i) {
      EXPECT_EQ(m->list.stars[i].x, reference->list.stars[i].x);
      EXPECT_EQ(m->list.stars[i].flux, reference->list.stars[i].flux);
    }
  }
}

}  // namespace
}  // namespace ng::measure
