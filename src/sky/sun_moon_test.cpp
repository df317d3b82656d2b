#include "sky/sun_moon.h"

#include <gtest/gtest.h>

#include <cmath>

#include "base/angle.h"
#include "sky/planets.h"

namespace ng::sky {
namespace {

constexpr double kArcsecDeg = 1.0 / 3600;

Moment at(const char* utc, double lat_deg = 0, double lon_deg = 0) {
  return *Moment::at(*Instant::parse(utc), {deg_to_rad(lat_deg), deg_to_rad(lon_deg), 0});
}

// Geocentric apparent places by ERFA (epv00, ab, pnm06a), confirmed by PyEphem to 0.15 arcsec. A site on the Earth sees
// the Sun displaced by up to 8.8 arcsec of parallax and 0.3 arcsec of diurnal aberration.
TEST(Sun, SolsticesOf2024) {
  const double topocentric = 9.2 * kArcsecDeg / std::cos(deg_to_rad(23.4));
  const BodyPlace june = sun(at("2024-06-20T20:51:00"));
  EXPECT_NEAR(rad_to_deg(june.apparent.ra_rad), 90.00000372646231, topocentric);
  EXPECT_NEAR(rad_to_deg(june.apparent.dec_rad), 23.43822602359111, topocentric);
  EXPECT_NEAR(june.distance_au, 1.0161945302443252, 5e-5);  // the radius of the Earth
  const BodyPlace december = sun(at("2024-12-21T12:00:00"));
  EXPECT_NEAR(rad_to_deg(december.apparent.ra_rad), 270.1228739607304, topocentric);
  EXPECT_NEAR(rad_to_deg(december.apparent.dec_rad), -23.438351928339383, topocentric);
}

// Meeus, Astronomical Algorithms 2nd ed., example 25.b (p. 169), 1992 October 13 0h TD: 13h13m30.749s, -7d47'01.74",
// 0.99760853 au (VSOP87). Parallax and diurnal aberration as above.
TEST(Sun, OfMeeusExample) {
  const double topocentric = 9.2 * kArcsecDeg;
  const BodyPlace s = sun(at("1992-10-12T23:59:00.816"));  // TT - UTC = 59.184 s
  EXPECT_NEAR(rad_to_deg(s.apparent.ra_rad), 15 * (13 + 13 / 60.0 + 30.749 / 3600), topocentric);
  EXPECT_NEAR(rad_to_deg(s.apparent.dec_rad), -(7 + 47 / 60.0 + 1.74 / 3600), topocentric);
  EXPECT_NEAR(s.distance_au, 0.99760853, 5e-5);
}

// Meeus, examples 47.a (p. 342: 368409.7 km) and 48.a (p. 347: k = 0.6786), 1992 April 12 0h TD.
TEST(Moon, OfMeeusExamples) {
  const MoonPhase p = moon_phase(at("1992-04-11T23:59:00.816"));
  EXPECT_NEAR(p.geocentric_distance_km, 368409.7, 20);  // the accuracy of ERFA's series
  EXPECT_NEAR(p.illuminated_fraction, 0.6786, 1e-3);    // the 0.1 %
}

// Quarters of September and October 2024 by PyEphem. At a quarter the Moon stands 90 degrees from the Sun in longitude:
// half lit but for its latitude and the Sun's finite distance (0.15 degrees), 0.3 % together.
TEST(Moon, QuartersOf2024) {
  EXPECT_NEAR(moon_phase(at("2024-09-11T06:05:36")).illuminated_fraction, 0.5, 0.003);
  EXPECT_GT(moon_phase(at("2024-09-18T02:34:24")).illuminated_fraction, 0.998);
  EXPECT_NEAR(moon_phase(at("2024-09-24T18:49:49")).illuminated_fraction, 0.5, 0.003);
  EXPECT_LT(moon_phase(at("2024-10-02T18:49:14")).illuminated_fraction, 0.002);
}

// Above the horizon all day at 69.65 degrees north: topocentric +7.927 degrees at noon by ERFA and PyEphem, to 0.02.
TEST(Moon, NeverSetsInTheNorth) {
  const Moment m = at("2024-12-15T12:00:00", 69.65, 18.96);
  EXPECT_NEAR(rad_to_deg(m.horizontal(moon(m).apparent).altitude_rad), 7.927, 0.02);
}

// Geocentric distance and lit fraction at the same moment by ERFA and PyEphem: 399414.3 km; 0.63587 and 0.63581.
TEST(Moon, PhaseAndDistance) {
  const MoonPhase p = moon_phase(at("2024-12-21T12:00:00"));
  EXPECT_NEAR(p.geocentric_distance_km, 399414.3, 20);
  EXPECT_NEAR(p.illuminated_fraction, 0.63584, 2e-4);
  EXPECT_NEAR(rad_to_deg(p.elongation_rad), 105.6185, 0.01);
  EXPECT_NEAR(rad_to_deg(p.phase_angle_rad), 74.2318, 0.01);
  EXPECT_FALSE(p.waxing);  // last quarter came on December 22
  EXPECT_TRUE(moon_phase(at("2024-12-10T12:00:00")).waxing);
}

// Altitude with parallax in the southern hemisphere by two programs: 57.490 (ERFA) and 57.484 degrees (PyEphem).
TEST(Moon, TopocentricAltitude) {
  const Moment m = at("2024-09-17T12:00:00", -31.2733, 149.0617);
  EXPECT_NEAR(rad_to_deg(m.horizontal(moon(m).apparent).altitude_rad), 57.490, 0.005);
}

// Astrometric places by PyEphem (VSOP87); 15 arcsec of truncation and its printed digits (0.36 arcsec).
TEST(Planets, AstrometricPlaces) {
  const Moment m = at("2024-12-21T12:00:00");
  struct Case {
    Planet planet;
    double ra_deg, dec_deg;
  };
  for (const Case& c : {Case{Planet::kVenus, 318.9402, -17.9880},
                        {Planet::kMars, 127.6008, 22.5502},
                        {Planet::kJupiter, 72.8237, 21.8583},
                        {Planet::kSaturn, 345.5358, -8.3496}}) {
    const PlanetPlace p = planet(m, c.planet);
    const double tolerance = 16 * kArcsecDeg + 14 * kArcsecDeg;  // and the parallax of Mars at 0.7 au
    EXPECT_NEAR(rad_to_deg(p.astrometric.ra_rad), c.ra_deg, tolerance) << planet_name(c.planet);
    EXPECT_NEAR(rad_to_deg(p.astrometric.dec_rad), c.dec_deg, tolerance) << planet_name(c.planet);
  }
}

// Saturn at r 9.867882, delta 10.464606 au, ring tilted by 16.442 and phase angle 4.198 degrees: 0.75 by the newer
// formula of Mallama & Hilton 2018, Astronomy and Computing 25, 10 (from memory). The two sets differ by 0.1 mag.
TEST(Planets, SaturnWithItsRing) {
  EXPECT_NEAR(planet_magnitude(Planet::kSaturn, 9.867882, 10.464606, deg_to_rad(4.198), std::sin(deg_to_rad(16.442))),
              0.75, 0.1);
}

}  // namespace
}  // namespace ng::sky
