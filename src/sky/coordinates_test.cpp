#include "sky/coordinates.h"

#include <gtest/gtest.h>

#include <cmath>

#include "base/angle.h"
#include "sky/constellation.h"

namespace ng::sky {
namespace {

Direction deg(double ra, double dec) {
  return {deg_to_rad(ra), deg_to_rad(dec)};
}

// Arcturus to Spica: Meeus, Astronomical Algorithms 2nd ed., example 17.a. The close pairs by ERFA (seps, pas).
TEST(Coordinates, SeparationAndPositionAngle) {
  EXPECT_NEAR(rad_to_deg(separation_rad(deg(213.9154, 19.1825), deg(201.2983, -11.1614))), 32.7930, 1e-4);
  EXPECT_NEAR(rad_to_deg(separation_rad(deg(83.82208, -5.39111), deg(84, -5))), 0.4293749522563586, 1e-10);
  EXPECT_NEAR(rad_to_deg(position_angle_rad(deg(83.82208, -5.39111), deg(84, -5))), 24.380607142983592, 1e-10);
  EXPECT_NEAR(rad_to_deg(position_angle_rad(deg(37.95, 89.26), deg(40, 89))), 172.14752791987758, 1e-9);
}

TEST(Coordinates, MovedIsTheInverse) {
  for (const auto& [from, to] :
       {std::pair{deg(83, -5), deg(90, 3)}, {deg(359, 88), deg(100, 89)}, {deg(5, -70), deg(190, -80)}}) {
    const Direction there = moved(from, separation_rad(from, to), position_angle_rad(from, to));
    EXPECT_NEAR(separation_rad(there, to), 0, 1e-12);
  }
}

// ERFA hd2pa: a northern and a southern site.
TEST(Coordinates, ParallacticAngle) {
  EXPECT_NEAR(rad_to_deg(parallactic_angle_rad(deg_to_rad(45), deg_to_rad(20), deg_to_rad(40))), 52.29306416175153,
              1e-9);
  EXPECT_NEAR(rad_to_deg(parallactic_angle_rad(deg_to_rad(-30), deg_to_rad(-60), deg_to_rad(-31.2733))),
              -48.24698844315719, 1e-9);
  EXPECT_NEAR(parallactic_angle_rad(1.1, 1.2, 0.3), 1.906227428001995580, 1e-13);  // ERFA's own test t_hd2pa
}

// Aldebaran and Antares, nearly opposite: Meeus, Astronomical Algorithms 2nd ed., exercise p. 110, printed to 1 arcmin.
TEST(Coordinates, NearlyOpposite) {
  const Direction aldebaran = deg(15 * (4 + 35 / 60.0 + 55.2 / 3600), 16 + 30 / 60.0 + 33 / 3600.0);
  const Direction antares = deg(15 * (16 + 29 / 60.0 + 24 / 3600.0), -(26 + 25 / 60.0 + 55 / 3600.0));
  EXPECT_NEAR(rad_to_deg(separation_rad(aldebaran, antares)), 169 + 58 / 60.0, 0.5 / 60);
}

// The galactic pole and centre of the IAU: by definition b = 90 at RA 192.85948, Dec +27.12825 (ICRS, ESA 1997).
TEST(Coordinates, GalacticPole) {
  EXPECT_NEAR(rad_to_deg(galactic(deg(192.85948, 27.12825)).latitude_rad), 90, 1e-4);
  const Galactic centre = galactic(deg(266.40499, -28.93617));
  EXPECT_NEAR(std::remainder(rad_to_deg(centre.longitude_rad), 360), 0, 1e-4);
  EXPECT_NEAR(rad_to_deg(centre.latitude_rad), 0, 1e-4);
}

// The well-known objects: where every atlas has them.
TEST(Constellation, OfWellKnownObjects) {
  for (const auto& [place, name] : {std::pair{deg(83.82, -5.39), "Orion"},
                                    {deg(23.462, 30.660), "Triangulum"},
                                    {deg(10.685, 41.269), "Andromeda"},
                                    {deg(37.95, 89.26), "Ursa Minor"},
                                    {deg(266.417, -29.008), "Sagittarius"},
                                    {deg(210.802, 54.349), "Ursa Major"},
                                    {deg(80.894, -69.756), "Dorado"},
                                    {deg(13.187, -72.829), "Tucana"},
                                    {deg(0, -90), "Octans"},
                                    {deg(97.98, 4.94), "Monoceros"}})
    EXPECT_EQ(constellation(place).name, name);
}

TEST(Constellation, TableHoldsEveryName) {
  EXPECT_EQ(constellation_rows().size(), 357u);
  EXPECT_EQ(constellation_names().size(), 88u);
  for (const ConstellationRow& row : constellation_rows())
    EXPECT_NE(constellation_by_abbreviation(row.abbreviation), nullptr) << row.abbreviation;
  EXPECT_EQ(constellation_by_abbreviation("tri")->name, "Triangulum");
  EXPECT_EQ(constellation_by_abbreviation("Xyz"), nullptr);
}

}  // namespace
}  // namespace ng::sky
