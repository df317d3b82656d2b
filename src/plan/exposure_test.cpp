#include "plan/exposure.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "base/angle.h"
#include "plan/star_counts.h"
#include "rig/signal.h"

namespace ng::plan {
namespace {

using testing::Contains;
using testing::HasSubstr;

rig::Rig usual_rig() {
  rig::Rig r;
  r.optics = {"test", 100, 0, 500, 0.9};
  r.sensor = {"test", 3000, 2000, 4, 0.25, 1.5, 50000, 500, 16, 0.003, -10, {{{300, 0.8}, {1000, 0.8}}}, std::nullopt};
  r.gains.rows = {{0, 0.8, 3.5, std::nullopt}, {100, 0.25, 1.5, std::nullopt}};
  r.gain_setting = 100;
  r.filters = {{"V", 550, 88, 0, 1}, {"Ha", 656.4, 3, 0, 0.9}};
  r.guide = rig::GuideOptics{30, 120, 3.75, 0, 0};
  return r;
}

ExposureAdvice advice_for(const rig::Rig& r, std::size_t filter, const Conditions& c = {}, const ExposureWish& w = {}) {
  auto a = advise_exposure(r, r.filters[filter], {}, {}, c, w);
  EXPECT_TRUE(a.ok());
  return *a;
}

// The issue's own words: read noise adds exactly the chosen share at the shortest length.
TEST(Exposure, ShortestSubAddsTheShareOfReadNoise) {
  for (const double share : {0.02, 0.05, 0.2}) {
    ExposureWish wish;
    wish.read_noise_share = share;
    const ExposureAdvice a = advice_for(usual_rig(), 0, {}, wish);
    const double photons = (a.sky_e_s + a.dark_e_s) * a.shortest_s;
    EXPECT_NEAR(std::sqrt(1 + 1.5 * 1.5 / photons), 1 + share, 1e-12);
  }
}

// V through 88 nm: N0 W A T s^2 10^(-0.4 mu), with N0 of Bessell et al. 1998; the band is wide for its one number, and
// the sky's colour bends it: 3 %.
TEST(Exposure, SkyOfTheVisualBand) {
  const ExposureAdvice a = advice_for(usual_rig(), 0);
  const rig::Band band{kPi / 4 * 100, 880, 0.9 * 0.8};
  EXPECT_NEAR(a.sky_e_s / rig::sky_rate_e_s(band, a.scale_arcsec_px, 21), 1, 0.03);
}

// At the longest length the brightest pixel of that star is just full; so many stars of the field are brighter.
TEST(Exposure, LongestSubJustFillsTheStar) {
  const rig::Rig r = usual_rig();
  const ExposureAdvice a = advice_for(r, 0);
  const double star = a.star_v0_e_s * std::pow(10.0, -0.4 * (a.saturating_v_mag + a.extinction_mag_airmass * 1.15));
  EXPECT_NEAR((star * a.peak_share + a.sky_e_s + a.dark_e_s) * a.longest_saturation_s, r.sensor.saturation_e(), 1e-6);
  EXPECT_NEAR(stars_per_deg2(a.saturating_v_mag) * r.field_width_deg() * r.field_height_deg(), 50, 1e-6);
}

TEST(Exposure, DarkCurrentAtTheWarmestAddsItsShare) {
  const rig::Rig r = usual_rig();
  const ExposureAdvice a = advice_for(r, 1);
  ASSERT_TRUE(a.warmest_c);
  const double others = a.sky_e_s + 1.5 * 1.5 / a.sub_s;
  EXPECT_NEAR(std::sqrt(1 + r.sensor.dark_rate_e_s(*a.warmest_c) / others), 1.02, 1e-9);
}

// N subs give the root of N: at the number advised the target is reached, with one less it is not.
TEST(Exposure, SubsReachTheTarget) {
  const ExposureAdvice a = advice_for(usual_rig(), 0);
  EXPECT_GE(a.sub_snr * std::sqrt(a.subs), 10);
  EXPECT_LT(a.sub_snr * std::sqrt(a.subs - 1), 10);
  EXPECT_NEAR(a.two_nights_snr / a.night_snr, std::sqrt(2.0), 1e-12);
  EXPECT_NEAR(a.deeper_mag, 2.5 * std::log10(2.0) / 2, 1e-12);
}

TEST(Exposure, NarrowBandsSeeTheLine) {
  const rig::Rig r = usual_rig();
  const ExposureAdvice a = advice_for(r, 1);
  EXPECT_TRUE(a.line);
  EXPECT_EQ(a.line_nm, 656.28);
  const double air = std::pow(10.0, -0.4 * a.extinction_mag_airmass * 1.15);
  EXPECT_NEAR(a.source_e_s, rig::line_rate_e_s(kPi / 4 * 100, 0.9 * 0.9 * 0.8 * air, a.scale_arcsec_px, 20), 1e-12);
}

TEST(Exposure, MeasuredSkyReplacesTheAssumedOne) {
  Conditions c;
  c.measured_sky_e_s = 3;
  c.measured_fwhm_px = 4;
  const ExposureAdvice a = advice_for(usual_rig(), 0, c);
  EXPECT_EQ(a.sky_e_s, 3);
  EXPECT_EQ(a.fwhm_px, 4);
}

TEST(Exposure, SaysWhatCannotBe) {
  rig::Rig r = usual_rig();
  r.guide.reset();  // unguided: the worm limits to less than read noise asks for in a narrow band
  EXPECT_THAT(advice_for(r, 1).flags, Contains(HasSubstr("no length does it all")));
  EXPECT_EQ(advice_for(r, 1).limit, SubLimit::kTracking);
  ExposureWish wish;
  wish.target_snr = -1;
  EXPECT_THAT(advise_exposure(r, r.filters[0], {}, {}, {}, wish).error().message(), HasSubstr("the target SNR is -1"));
  r.sensor.quantum_efficiency.points = {{700, 0.5}, {1000, 0.5}};
  EXPECT_THAT(advise_exposure(r, r.filters[0], {}, {}, {}, {}).error().message(), HasSubstr("the sensor sees nothing"));
}

// A count that grows by the rules of the table: between two magnitudes a straight line in the logarithm.
TEST(StarCounts, InverseOfTheCount) {
  for (const double v : {6.0, 11.5, 15.25, 19.9})
    EXPECT_NEAR(magnitude_of_star_number(stars_per_deg2(v) * 1.7 * 3, 1.7, 3), v, 1e-9);
  EXPECT_NEAR(stars_per_deg2(15) * 41252.96, 3.2e7, 1e3);
}

}  // namespace
}  // namespace ng::plan
