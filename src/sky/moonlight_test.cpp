#include "sky/moonlight.h"

#include <gtest/gtest.h>

#include "base/angle.h"
#include "sky/sky_brightness.h"

namespace ng::sky {
namespace {

// Published worked value (documentation of the DESI survey's specsim for this model): target at z 20, Moon at z 70, 50
// degrees apart, a quarter past full (45 degrees of phase angle), k 0.15: the Moon alone gives 19.855 mag/arcsec^2.
TEST(Moonlight, PublishedExample) {
  const double b = moonlight_nanolamberts({deg_to_rad(45), deg_to_rad(50), deg_to_rad(70), deg_to_rad(20), 0.15});
  EXPECT_NEAR(mag_arcsec2(b), 19.855, 0.0005);
  EXPECT_NEAR(b, 389.5159308455913, 1e-6);
}

// The paper's equations evaluated by an independent program.
TEST(Moonlight, EquationsOfThePaper) {
  for (const auto& [rho_deg, f] :
       {std::pair{10.0, 1259339.16}, {30.0, 665835.688}, {60.0, 344772.022}, {90.0, 250775.254}, {120.0, 301516.200}})
    EXPECT_NEAR(scattering(deg_to_rad(rho_deg)), f, 1e-2) << rho_deg;
  for (const auto& [z_deg, x] :
       {std::pair{0.0, 1.0}, {30.0, 1.1470786693528088}, {60.0, 1.8898223650461357}, {90.0, 5.0}})
    EXPECT_NEAR(krisciunas_schaefer_airmass(deg_to_rad(z_deg)), x, 1e-9) << z_deg;
  EXPECT_NEAR(moon_illuminance(0), 0.029107171180666053, 1e-12);
  EXPECT_NEAR(mag_arcsec2(79), 21.587078573671167, 1e-9);
  EXPECT_NEAR(nanolamberts(21), 135.662570298831, 1e-6);
}

// Whole skies of the paper's model by an independent program: half and full Moon over a dark sky of 79 nL.
TEST(Moonlight, WholeSky) {
  SkyLight half;
  half.target_zenith_distance_rad = deg_to_rad(15);
  half.moon_zenith_distance_rad = deg_to_rad(45);
  half.moon_separation_rad = deg_to_rad(60);
  half.moon_phase_angle_rad = deg_to_rad(90);
  half.dark_zenith_mag_arcsec2 = mag_arcsec2(79);
  EXPECT_NEAR(sky_mag_arcsec2(half), 20.62304385572803, 1e-9);
  SkyLight full = half;
  full.extinction_mag_airmass = 0.25;
  full.target_zenith_distance_rad = deg_to_rad(60);
  full.moon_zenith_distance_rad = deg_to_rad(60);
  full.moon_separation_rad = deg_to_rad(30);
  full.moon_phase_angle_rad = 0;
  EXPECT_NEAR(sky_mag_arcsec2(full), 17.186856159485888, 1e-9);
}

TEST(Moonlight, NoneWhenTheMoonIsDown) {
  EXPECT_EQ(moonlight_nanolamberts({0, 1, deg_to_rad(91), 0, 0.2}), 0);
}

// The fit at its own ends: 11.84 at a zenith distance of 95 degrees; at 105 the fit and our contribution with a night
// of 21.65 agree to 0.05 mag. Darker as the Sun sinks, without a jump.
TEST(Twilight, FadesAsThePublishedFitDoes) {
  EXPECT_NEAR(*twilight_mag_arcsec2(deg_to_rad(-5)), 11.84, 1e-9);
  const double at_15 = mag_arcsec2(nanolamberts(*twilight_mag_arcsec2(deg_to_rad(-15))) + nanolamberts(21.65));
  EXPECT_NEAR(at_15, 11.84 + 1.518 * 10 - 0.057 * 100, 0.05);
  for (double h = 5; h > -17.9; h -= 0.1)
    EXPECT_LE(*twilight_mag_arcsec2(deg_to_rad(h)), *twilight_mag_arcsec2(deg_to_rad(h - 0.1))) << h;
  EXPECT_FALSE(twilight_mag_arcsec2(deg_to_rad(-18.1)));
}

}  // namespace
}  // namespace ng::sky
