#include "rig/dew.h"

#include <gtest/gtest.h>

namespace ng::rig {
namespace {

// Alduchov & Eskridge 1996, J. Appl. Meteor. 35, 601: their formula evaluated by an independent program; and beside it
// the constants of WMO-No. 8 (17.62, 243.12), which differ by 0.02 C at most.
TEST(Dew, DewPoint) {
  const double expected[][4] = {
      {20, 50, 9.261106630534236, 9.255174598981256},   {10, 80, 6.707933939246655, 6.706013093947368},
      {0, 90, -1.4442357053520998, -1.445118622219464}, {-5, 85, -7.130553013207467, -7.131883020500571},
      {25, 60, 16.697663521212892, 16.693149006198954}, {30, 95, 29.110207673082684, 29.10972730436833}};
  for (const auto& [t, rh, dew, wmo] : expected) {
    EXPECT_NEAR(dew_point_c(t, rh), dew, 1e-9);
    EXPECT_NEAR(dew_point_c(t, rh), wmo, 0.02);
  }
}

// The formula at seven temperatures; and the truth of IAPWS-IF97, from which it strays by 0.25 % at most there.
TEST(Dew, SaturationPressure) {
  const double expected[][2] = {{-20, 1.2578382410875952}, {-10, 2.867729606184788}, {0, 6.1094},
                                {10, 12.260206350234858},  {20, 23.334406230993576}, {30, 42.366502512954746},
                                {40, 73.74716751520093}};
  for (const auto& [t, hpa] : expected) EXPECT_NEAR(saturation_pressure_hpa(t), hpa, 1e-9);
  for (const auto& [t, hpa] : {std::pair{0.01, 6.116570}, {10.0, 12.281839}, {20.0, 23.392148}, {30.0, 42.466883}})
    EXPECT_NEAR(saturation_pressure_hpa(t) / hpa, 1, 0.0026);
}

// 280 K against a sky of 255 K, emissivity 1: 108.775 W/m^2 (Stefan-Boltzmann).
TEST(Dew, RadiativeLoss) {
  EXPECT_NEAR(radiative_loss_w_m2(1, 280 - 273.15, 255 - 273.15), 108.77532407727878, 1e-6);
}

TEST(Dew, GlassColderThanAirAndHeatOnlyWhereItIsNeeded) {
  const FrontGlass glass{130};
  EXPECT_LT(glass_temperature_c(glass, 5), 5);
  EXPECT_GT(glass_temperature_c(glass, 5), clear_sky_c(5));
  EXPECT_GT(heater_need_w(glass, 5, 95, 2), 0);
  EXPECT_EQ(heater_need_w(glass, 5, 30, 2), 0);  // the dew point lies far below the glass
  // Without heat the glass is at its own balance: heating it to just that takes nothing.
  const double margin = glass_temperature_c(glass, 5) - dew_point_c(5, 80);
  EXPECT_NEAR(heater_need_w(glass, 5, 80, margin), 0, 1e-9);
}

}  // namespace
}  // namespace ng::rig
