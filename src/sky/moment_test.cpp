#include "sky/moment.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "base/angle.h"

namespace ng::sky {
namespace {

using testing::HasSubstr;

constexpr double kArcsecDeg = 1.0 / 3600;

Moment at(const char* utc, double lat_deg, double lon_deg, double elevation_m = 0) {
  return *Moment::at(*Instant::parse(utc), {deg_to_rad(lat_deg), deg_to_rad(lon_deg), elevation_m});
}

// Local apparent sidereal time on the meridian of Greenwich, by ERFA (gst06a) with UT1 = UTC. 0.001 s.
TEST(Moment, SiderealTime) {
  const Moment m = at("2024-12-21T13:00:00", 51.4779, 0);
  EXPECT_NEAR(rad_to_deg(m.sidereal_rad()) / 15, 19.039414334951907, 0.001 / 3600);
  EXPECT_NEAR(m.scales().tai_minus_utc_s, 37, 0);
  EXPECT_FALSE(m.scales().doubtful);
}

// Apparent place of the Orion nebula at TT 2025.5 by ERFA atci13 (geocentric): the site adds up to 0.32 arcsec of
// diurnal aberration.
TEST(Moment, ApparentPlace) {
  const Moment m = at("2025-07-02T14:58:50.816", 0, 0);  // TT = JD 2460859.125
  const Direction d =
      m.apparent({deg_to_rad(15 * (5 + 35 / 60.0 + 17.3 / 3600)), -deg_to_rad(5 + 23 / 60.0 + 28 / 3600.0)});
  EXPECT_NEAR(rad_to_deg(d.ra_rad), 84.13082687010744, 0.4 * kArcsecDeg);
  EXPECT_NEAR(rad_to_deg(d.dec_rad), -5.373261354367414, 0.4 * kArcsecDeg);
}

// Altitudes and azimuths by ERFA atco13 with UT1 = UTC and no polar motion; refraction for 1010 hPa, 10 C, 50 %, 0.55
// um.
TEST(Moment, AltitudeAndAzimuth) {
  struct Case {
    double ra_deg, dec_deg, lat_deg, lon_deg, az_deg, alt_deg, refracted_deg;
  };
  const double eta_ra = 15 * (10 + 45 / 60.0 + 3.5 / 3600), eta_dec = -(59 + 41 / 60.0 + 4 / 3600.0);
  const double m31_ra = 15 * (42 / 60.0 + 44.3 / 3600), m31_dec = 41 + 16 / 60.0 + 9 / 3600.0;
  for (const Case& c :
       {Case{15 * (5 + 35 / 60.0 + 17.3 / 3600), -(5 + 23 / 60.0 + 28 / 3600.0), -31.2733, 149.0617, 20.890087659776484,
             62.6153921566177, 62.623735219034685},
        {eta_ra, eta_dec, -31.2733, 149.0617, 145.27508202021804, 28.18299411831765, 28.212918209853164},
        {m31_ra, m31_dec, 51.4779, 0, 63.961473204329714, 33.68744987770679, 33.71154433379063},
        {m31_ra, m31_dec, -31.2733, 149.0617, 317.69403191839916, -3.359906239496439, std::nan("")}}) {
    const Moment m = at("2024-12-21T13:00:00", c.lat_deg, c.lon_deg);
    const Direction apparent = m.apparent({deg_to_rad(c.ra_deg), deg_to_rad(c.dec_deg)});
    const Horizontal airless = m.horizontal(apparent);
    EXPECT_NEAR(rad_to_deg(airless.azimuth_rad), c.az_deg, 0.01 * kArcsecDeg);
    EXPECT_NEAR(rad_to_deg(airless.altitude_rad), c.alt_deg, 0.01 * kArcsecDeg);
    if (std::isnan(c.refracted_deg)) continue;  // below the horizon
    const Horizontal seen = m.horizontal(apparent, {1010, 10, 0.5, 0.55});
    EXPECT_NEAR(rad_to_deg(seen.altitude_rad), c.refracted_deg, 0.01 * kArcsecDeg);
  }
}

// Venus from Washington: Meeus, Astronomical Algorithms 2nd ed., example 13.b (p. 95): azimuth 68.0337 from the south,
// altitude 15.1249 degrees, printed to 0.0001. UT1 - UTC is not in it: up to 0.9 s turn the sky by 0.0038 degrees.
TEST(Moment, VenusFromWashington) {
  const Moment m = at("1987-04-10T19:21:00", 38 + 55 / 60.0 + 17 / 3600.0, -(77 + 3 / 60.0 + 56 / 3600.0));
  const Horizontal h =
      m.horizontal({deg_to_rad(15 * (23 + 9 / 60.0 + 16.641 / 3600)), -deg_to_rad(6 + 43 / 60.0 + 11.61 / 3600)});
  EXPECT_NEAR(rad_to_deg(h.azimuth_rad), 248.0337, 0.0040);
  EXPECT_NEAR(rad_to_deg(h.altitude_rad), 15.1249, 0.0040);
}

// Refraction of dry air, 1010 hPa, 10 C, 0.574 um by ERFA refco: A tan z + B tan^3 z at observed zenith distances. The
// direction stands on the meridian, so much lower as the air will lift it.
TEST(Moment, RefractionByErfa) {
  const Moment m = at("2024-12-21T13:00:00", 40, 0);
  const double observed_deg[] = {30, 45, 60, 70}, lifted_arcsec[] = {33.461421, 57.913592, 100.084345, 157.947976};
  for (int i = 0; i < 4; ++i) {
    const double true_deg = observed_deg[i] + lifted_arcsec[i] * kArcsecDeg;
    const Horizontal seen = m.horizontal({m.sidereal_rad(), deg_to_rad(40 - true_deg)}, {1010, 10, 0, 0.574});
    EXPECT_NEAR(90 - rad_to_deg(seen.altitude_rad), observed_deg[i], 0.02 * kArcsecDeg) << observed_deg[i];
  }
}

TEST(Moment, RefusesPlacesThatDoNotExist) {
  const Instant now = *Instant::parse("2026-11-25");
  EXPECT_THAT(Moment::at(now, {deg_to_rad(91), 0, 0}).error().message(), HasSubstr("latitude 91 degrees"));
  EXPECT_FALSE(Moment::at(now, {0, deg_to_rad(400), 0}).ok());
  EXPECT_FALSE(Moment::at(now, {0, 0, 20000}).ok());
  EXPECT_THAT(Moment::at(*Instant::parse("1955-01-01"), {}).error().message(), HasSubstr("1960"));
}

// The leap seconds that a table can know end some years after its last entry; from there on the answer says so.
TEST(TimeScales, SaysWhenLeapSecondsAreOld) {
  const Instant doubtful = leap_seconds_doubtful_after();
  EXPECT_GT(doubtful, *Instant::parse("2020-01-01"));
  EXPECT_FALSE(time_scales(doubtful.plus_seconds(-2 * 86400))->doubtful);
  EXPECT_TRUE(time_scales(doubtful.plus_seconds(86400))->doubtful);
}

// TT - UTC at 2024: 37 leap seconds and 32.184 s (IERS Bulletin C 52); before the leap second of 2017-01-01 one less.
TEST(TimeScales, TerrestrialTime) {
  const auto tt_minus_utc_s = [](const char* utc) {
    const TimeScales s = *time_scales(*Instant::parse(utc));
    return ((s.tt.day - s.utc.day) + (s.tt.rest - s.utc.rest)) * 86400;
  };
  EXPECT_NEAR(tt_minus_utc_s("2024-12-21T13:00:00"), 69.184, 1e-6);
  EXPECT_NEAR(tt_minus_utc_s("2016-12-30T13:00:00"), 68.184, 1e-6);
}

}  // namespace
}  // namespace ng::sky
