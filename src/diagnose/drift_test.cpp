#include "diagnose/drift.h"

#include <gtest/gtest.h>

#include <cmath>

#include "diagnose/drift_line.h"
#include "math/random.h"

namespace ng::diagnose {
namespace {

constexpr double kArcmin = kPi / 180 / 60, kArcsec = kArcmin / 60;
const Instant kEvening = *Instant::parse("2026-01-14T21:03:00");

// A star at an hour angle and declination of that evening; precession since 2000 is left out, so the places are only
// about right (0.15 degrees), which a drift does not notice.
sky::Direction star_at(double hour_deg, double dec_deg, const sky::Site& site) {
  const auto moment = sky::Moment::at(kEvening, site);
  return {std::remainder(moment->sidereal_rad() - deg_to_rad(hour_deg), 2 * kPi), deg_to_rad(dec_deg)};
}

// Exact rotations calculated elsewhere: five arcmin too far west lets a star on the meridian drift 6.5624 arcsec north
// in five minutes; five arcmin too high lets one six hours west of it drift as much to the south. The other star of
// each pair stays. 0.15 degrees of place are 0.0026 of the drift, or 0.8 arcsec of the axis.
TEST(Drift, PublishedDriftsGiveTheAxis) {
  const sky::Site site{deg_to_rad(45), deg_to_rad(9), 0};
  struct Row {
    double meridian_arcsec, west_arcsec, west_arcmin, high_arcmin;
  };
  for (const Row& row : {Row{6.562378, 0, 5, 0}, Row{0, -6.562378, 0, 5}}) {
    const std::vector<SeenDrift> seen{
        {star_at(0, 0, site), kEvening, 300, row.meridian_arcsec * kArcsec, 0.1 * kArcsec},
        {star_at(90, 0, site), kEvening, 300, row.west_arcsec * kArcsec, 0.1 * kArcsec}};
    const auto axis = polar_axis_of_drifts(seen, site, {});
    ASSERT_TRUE(axis.ok());
    const double east = std::remainder(axis->azimuth_rad, 2 * kPi) * std::cos(axis->altitude_rad);
    // Over five minutes a star moves by 1.25 degrees, so each shows 0.011 of the other part: 3.3 arcsec.
    EXPECT_NEAR(east / kArcmin, -row.west_arcmin, 0.1);
    EXPECT_NEAR((axis->altitude_rad - site.latitude_rad) / kArcmin, row.high_arcmin, 0.1);
    // 0.1 arcsec in 300 s: 0.1 / (300 x 7.292e-5 rad/s) = 4.57 arcsec of the axis.
    EXPECT_NEAR(axis->altitude_error_rad / kArcsec, 4.57, 0.1);
    EXPECT_NEAR(axis->azimuth_error_rad * std::cos(axis->altitude_rad) / kArcsec, 4.57, 0.1);
  }
}

// Round: drifts that an axis makes give it back, with their stated errors, refraction on, both hemispheres.
TEST(Drift, StatedErrorsAreTheErrorsMade) {
  math::Random random(35, 1);
  double azimuth2 = 0, altitude2 = 0, misfit2 = 0;
  constexpr int kTrials = 100;
  for (int i = 0; i < kTrials; ++i) {
    const sky::Site site{deg_to_rad(i % 2 == 0 ? 47 : -33), deg_to_rad(9), 500};
    const sky::Air air{950, 5, 0.5, 0.55};
    const AzimuthAltitude pole = pole_of(site, air).seen_pole;
    const double azimuth = pole.azimuth_rad + 40 * kArcmin * random.normal(),
                 altitude = pole.altitude_rad + 30 * kArcmin * random.normal();
    std::vector<SeenDrift> seen;
    for (const double hour : {-70.0, -5.0, 50.0}) {
      SeenDrift s{star_at(hour, i % 2 == 0 ? 20 : -20, site), kEvening, 600, 0, 0.4 * kArcsec};
      const auto d = drift_of(ground_vector(azimuth, altitude), s.star_icrs, s.begin, s.seconds, site, air);
      ASSERT_TRUE(d.ok());
      s.north_rad = d->north_rad + s.north_error_rad * random.normal();
      seen.push_back(s);
    }
    const auto axis = polar_axis_of_drifts(seen, site, air);
    ASSERT_TRUE(axis.ok());
    const double scatter = std::max(1.0, axis->misfit);
    azimuth2 += std::pow(std::remainder(axis->azimuth_rad - azimuth, 2 * kPi) / (axis->azimuth_error_rad / scatter), 2);
    altitude2 += std::pow((axis->altitude_rad - altitude) / (axis->altitude_error_rad / scatter), 2);
    misfit2 += axis->misfit * axis->misfit;
  }
  // 100 degrees of freedom each: a spread of 0.14; three times that.
  EXPECT_NEAR(azimuth2 / kTrials, 1, 0.42);
  EXPECT_NEAR(altitude2 / kTrials, 1, 0.42);
  EXPECT_NEAR(misfit2 / kTrials, 1, 0.42);
}

// On the meridian only the azimuth shows, six hours from it only the altitude.
TEST(Drift, OneDriftSaysWhatItCan) {
  const sky::Site site{deg_to_rad(45), deg_to_rad(9), 0};
  const auto south = one_drift({star_at(0, 0, site), kEvening, 60, 1.3125 * kArcsec, 0.1 * kArcsec}, site, {});
  ASSERT_TRUE(south.ok());
  EXPECT_NEAR(south->hour_angle_rad, 0, deg_to_rad(0.5));
  EXPECT_NEAR(south->largest_rad / kArcmin, 5, 0.02);  // 0.26252 arcsec a minute for each arcmin
  ASSERT_TRUE(south->azimuth_rad.has_value());
  EXPECT_NEAR(*south->azimuth_rad * std::cos(site.latitude_rad) / kArcmin, -5, 0.02);  // drifts north: too far west
  EXPECT_FALSE(south->altitude_rad.has_value());
  const auto west = one_drift({star_at(90, 0, site), kEvening, 60, -1.3125 * kArcsec, 0.1 * kArcsec}, site, {});
  ASSERT_TRUE(west.ok() && west->altitude_rad.has_value());
  EXPECT_NEAR(*west->altitude_rad / kArcmin, 5, 0.02);
  EXPECT_FALSE(west->azimuth_rad.has_value());
}

TEST(Drift, RefusesOnePlace) {
  const sky::Site site{deg_to_rad(45), deg_to_rad(9), 0};
  const std::vector<SeenDrift> seen{{star_at(10, 0, site), kEvening, 300, 0, kArcsec},
                                    {star_at(-8, 30, site), kEvening, 300, 0, kArcsec}};
  EXPECT_EQ(polar_axis_of_drifts(seen, site, {}).error().code(), Code::kTooFew);
}

// Offsets whose noise goes together over ten rows, with wild ones: the slope's stated error is the error made.
TEST(DriftLine, StatedErrorIsTheErrorMade) {
  math::Random random(36, 1);
  double pull2 = 0;
  constexpr int kTrials = 200;
  for (int trial = 0; trial < kTrials; ++trial) {
    std::vector<double> seconds, offsets;
    double wander = 0;
    for (int i = 0; i < 300; ++i) {
      wander = 0.9 * wander + 0.3 * random.normal();
      seconds.push_back(2.0 * i);
      offsets.push_back(1.5 + 0.004 * seconds.back() + wander + (i % 97 == 5 ? 25 : 0));
    }
    const auto line = drift_line(seconds, offsets);
    ASSERT_TRUE(line.ok());
    EXPECT_EQ(line->left_out, 4);
    pull2 += std::pow((line->slope - 0.004) / line->slope_error, 2);
  }
  // The scatter of this mean over trials is 0.15; the correlation of 24 averages comes out a little low, so the error
  // may be a fifth larger than stated.
  EXPECT_GT(pull2 / kTrials, 0.7);
  EXPECT_LT(pull2 / kTrials, 1.44 + 0.3);
}

TEST(DriftLine, RefusesWhatIsNoLog) {
  std::vector<double> seconds(40), offsets(40);
  for (std::size_t i = 0; i < 40; ++i) seconds[i] = static_cast<double>(i);
  EXPECT_EQ(drift_line(seconds, offsets).error().code(), Code::kTooFew);  // 39 s
  for (double& s : seconds) s *= 3;
  seconds[20] = seconds[19];
  EXPECT_EQ(drift_line(seconds, offsets).error().code(), Code::kInvalidInput);
}

}  // namespace
}  // namespace ng::diagnose
