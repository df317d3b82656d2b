#include "plan/candidates.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <fstream>

#include "base/angle.h"

namespace ng::plan {
namespace {

using testing::HasSubstr;

const sky::Site kSite{deg_to_rad(47), deg_to_rad(8), 500};

NightSteps night(const char* utc, const sky::Site& site = kSite) {
  return *NightSteps::make(*Instant::parse(utc), site, {21, 0.25}, 300);
}

catalog::SkyObject make(const char* name, double ra_deg, double dec_deg, double size_arcmin, std::optional<double> mag,
                        catalog::ObjectKind kind = catalog::ObjectKind::kGalaxy) {
  catalog::SkyObject o;
  o.names = {name};
  o.place = {deg_to_rad(ra_deg), deg_to_rad(dec_deg)};
  o.kind = kind;
  o.major_arcmin = o.minor_arcmin = size_arcmin;
  o.magnitude = mag;
  return o;
}

class CandidateSearch : public testing::Test {
 protected:
  ~CandidateSearch() override { std::filesystem::remove(path_); }
  catalog::ObjectFile file(const std::vector<catalog::SkyObject>& objects) {
    const auto bytes = *catalog::encode_object_file(objects);
    std::ofstream(path_, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
    return *catalog::ObjectFile::open(path_);
  }

 private:
  std::filesystem::path path_ =
      std::filesystem::temp_directory_path() / ("ng-candidates-" + std::to_string(getpid()) + "-" +
                                                testing::UnitTest::GetInstance()->current_test_info()->name());
};

// A new-Moon night of January 2027 (new Moon January 7, skyfield-type tables): the quick altitude of a step against
// ERFA's whole chain at that moment, and the time of transit against a zero hour angle there.
TEST(NightSteps, AgreesWithTheWholeChain) {
  const NightSteps n = night("2027-01-07T20:00:00");
  ASSERT_GT(n.steps().size(), 150u);
  const sky::Direction icrs{deg_to_rad(83.82), deg_to_rad(-5.39)};
  const sky::Direction d = n.of_date(icrs);
  for (const std::size_t i : {std::size_t{5}, n.steps().size() / 2, n.steps().size() - 3}) {
    const NightStep& s = n.steps()[i];
    const sky::Moment m = *sky::Moment::at(s.at, kSite);
    const sky::Horizontal h = m.horizontal(m.apparent(icrs));
    const TargetAt t = n.at(s, d);
    EXPECT_NEAR(t.altitude_rad, h.altitude_rad, 2 / kArcsecPerRadian);  // aberration changes by 1 arcsec in a night
    EXPECT_NEAR(std::remainder(t.azimuth_rad - h.azimuth_rad, 2 * kPi), 0, 4 / kArcsecPerRadian);
  }
  const sky::Moment at_transit = *sky::Moment::at(n.transit(d), kSite);
  EXPECT_NEAR(at_transit.hour_angle_rad(at_transit.apparent(icrs)), 0, 5 / kArcsecPerRadian);
}

// Time above a limit: cos H0 = (sin h - sin phi sin dec) / (cos phi cos dec), Meeus eq. 15.1, evaluated by an
// independent program. At H0 the altitude is the limit; where cos H0 is above 1 the limit is never reached.
TEST(NightSteps, HourAngleOfALimit) {
  const auto altitude_deg = [](double latitude_deg, double dec_deg, double hour_angle_deg) {
    const NightSteps n = night("2027-01-07T20:00:00", {deg_to_rad(latitude_deg), 0, 0});
    NightStep step = n.steps().front();
    step.sidereal_rad = deg_to_rad(hour_angle_deg);
    return rad_to_deg(n.at(step, {0, deg_to_rad(dec_deg)}).altitude_rad);
  };
  EXPECT_NEAR(altitude_deg(51.5, -5.39, 22.274643486975517), 30, 1e-9);
  EXPECT_NEAR(altitude_deg(51.5, -5.39, -22.274643486975517), 30, 1e-9);
  EXPECT_NEAR(altitude_deg(-31.2733, -52.6957, 144.71204944570383), -0.5667, 1e-9);
  EXPECT_LT(altitude_deg(-31.27, 41.27, 0), 30);  // cos H0 = 1.311
  EXPECT_LT(altitude_deg(-31.2733, 60, 0), 0);    // cos H0 = 1.029: never rises
}

// At the dark zenith a minute counts as one; low down, light falls as the air takes it and the sky brightens.
TEST(NightSteps, MinuteWeights) {
  const Imaging faint{1, 0, 0};
  EXPECT_NEAR(minute_weight(faint, 0, 1, 1), 1, 1e-12);
  EXPECT_NEAR(minute_weight(faint, 0, 0.8, 1), 0.64, 1e-12);       // background-limited: the square of the light
  EXPECT_NEAR(minute_weight(faint, 0, 1, 4), 0.25, 1e-12);         // and the sky's inverse
  EXPECT_NEAR(minute_weight({1, 3, 0}, 0, 1, 4), 4.0 / 7, 1e-12);  // read noise hides the Moon
  EXPECT_NEAR(minute_weight({1e-9, 0, 0}, 1, 0.8, 1), 0.8, 1e-6);  // source-limited: the light itself
}

TEST_F(CandidateSearch, RanksWhatFitsAndStandsHigh) {
  const auto objects =
      file({make("M 901", 95, 45, 40, 9), make("low", 95, -30, 40, 6), make("never", 95, -60, 40, 6),
            make("tiny", 100, 45, 1, 9), make("sunny", 287, -22, 40, 6), make("M 902", 95, 50, 40, 14)});
  const NightSteps n = night("2027-01-07T20:00:00");
  Imaging rig;
  rig.source_zero_mag_e_s = 2e8;
  rig.sky_e_s = 0.8;
  const auto c = find_candidates(objects, n, rig, {}, {});
  ASSERT_TRUE(c.ok());
  ASSERT_EQ(c->best.size(), 2u);
  EXPECT_EQ(objects.object(c->best[0].number).names[0], "M 901");
  EXPECT_EQ(objects.object(c->best[1].number).names[0], "M 902");
  EXPECT_GT(*c->best[1].needed_h, 100 * *c->best[0].needed_h);
  EXPECT_EQ(c->near_sun + c->too_low, 2u);  // sunny, low; what never rises and what is tiny is not considered
  EXPECT_EQ(c->best[0].best_month, 12);
  EXPECT_NEAR(rad_to_deg(c->best[0].highest_altitude_rad), 88, 0.2);  // 90 - 47 + 45
}

// Two in one field are one proposal.
TEST_F(CandidateSearch, WhatLiesInTheSameFieldGoesWithIt) {
  const auto objects = file({make("M 901", 95, 45, 40, 9), make("NGC 9001", 95.2, 45.1, 10, 12)});
  const auto c = *find_candidates(objects, night("2027-01-07T20:00:00"), {}, {}, {});
  ASSERT_EQ(c.best.size(), 1u);
  EXPECT_EQ(objects.object(c.best[0].number).names[0], "M 901");
  ASSERT_EQ(c.best[0].with_it.size(), 1u);
  // A companion that fits the field better does not hide the great one.
  const auto great = file({make("M 901", 95, 45, 200, 5), make("M 903", 95.2, 45.1, 20, 9)});
  const auto both = *find_candidates(great, night("2027-01-07T20:00:00"), {}, {}, {});
  ASSERT_EQ(both.best.size(), 1u);
  EXPECT_EQ(great.object(both.best[0].number).names[0], "M 901");
}

// Stars are there within an hour, a nebula always has fainter outskirts: of one size and magnitude the nebula is worth
// more of a long night.
TEST_F(CandidateSearch, ANebulaIsWorthMoreThanACluster) {
  const auto objects = file({make("NGC 9001", 95, 45, 30, 7, catalog::ObjectKind::kOpenCluster),
                             make("NGC 9002", 115, 45, 30, 7, catalog::ObjectKind::kEmissionNebula)});
  Imaging rig;
  rig.source_zero_mag_e_s = rig.line_zero_mag_e_s = 2e8;
  rig.sky_e_s = 0.8;
  const auto c = *find_candidates(objects, night("2027-01-07T20:00:00"), rig, {}, {});
  ASSERT_EQ(c.best.size(), 2u);
  EXPECT_EQ(objects.object(c.best[0].number).names[0], "NGC 9002");
  EXPECT_GT(c.best[0].worth, 2 * c.best[1].worth);
}

// Full Moon (2027 January 22) costs a galaxy more than half of the night; the mount flips within it.
TEST_F(CandidateSearch, TheMoonCosts) {
  const auto objects = file({make("high", 125, 45, 40, 9)});
  Imaging rig;
  rig.past_meridian_min = 10;
  const auto dark = *find_candidates(objects, night("2027-01-07T20:00:00"), rig, {}, {});
  const auto moon = *find_candidates(objects, night("2027-01-22T20:00:00"), rig, {}, {});
  ASSERT_EQ(dark.best.size(), 1u);
  ASSERT_EQ(moon.best.size(), 1u);
  EXPECT_LT(moon.best[0].equivalent_min, 0.5 * dark.best[0].equivalent_min);
  ASSERT_TRUE(dark.best[0].flip);
  EXPECT_NEAR(dark.best[0].flip->seconds_since(dark.best[0].transit), 600, 1e-3);
}

TEST_F(CandidateSearch, FiltersAndRefusals) {
  const auto objects =
      file({make("a", 95, 45, 40, 6), make("b", 95, 41, 40, {}, catalog::ObjectKind::kEmissionNebula)});
  const NightSteps n = night("2027-01-07T20:00:00");
  CandidateOptions lines;
  lines.lines_only = true;
  const auto found = *find_candidates(objects, n, {}, lines, {});
  ASSERT_EQ(found.best.size(), 1u);
  EXPECT_TRUE(found.best[0].brightness_assumed);
  CandidateOptions nowhere;
  nowhere.constellation = "Triangel";
  EXPECT_THAT(find_candidates(objects, n, {}, nowhere, {}).error().message(), HasSubstr("Triangulum or Tri"));
  CandidateOptions collected;
  collected.collected_h = [](std::uint32_t) { return 1e6; };
  Imaging rig;
  rig.source_zero_mag_e_s = 2e8;
  rig.line_zero_mag_e_s = 2e8;
  EXPECT_EQ(find_candidates(objects, n, rig, collected, {})->best[0].worth, 0);
}

TEST_F(CandidateSearch, MidnightSunGivesNothing) {
  const NightSteps n = night("2026-06-21T20:00:00", {deg_to_rad(69.65), deg_to_rad(18.96), 0});
  EXPECT_TRUE(n.steps().empty());
  EXPECT_TRUE(find_candidates(file({make("a", 95, 45, 40, 6)}), n, {}, {}, {})->best.empty());
}

}  // namespace
}  // namespace ng::plan
