// rig/dew.h - when glass gets wet, and how much heat keeps it dry.
//
// Magnus formula with the constants of Alduchov & Eskridge 1996, J. Appl. Meteor. 35, 601: saturation pressure over
// water 6.1094 exp(17.625 T / (243.04 + T)) hPa; 0.4 % of the truth from -40 to +50 C (their abstract).
#pragma once

namespace ng::rig {

[[nodiscard]] double saturation_pressure_hpa(double temperature_c);
[[nodiscard]] double dew_point_c(double temperature_c, double humidity_percent);

// Net loss of a surface to a clear sky: emissivity sigma (T^4 - T_sky^4); Stefan-Boltzmann, W/m^2.
[[nodiscard]] double radiative_loss_w_m2(double emissivity, double surface_c, double sky_c);
// What a clear sky radiates like: Swinbank 1963, QJRMS 89, 339: 0.0552 T^1.5 kelvin (from memory).
[[nodiscard]] double clear_sky_c(double air_c);

// Front glass of a telescope under a clear sky.
struct FrontGlass {
  double diameter_mm = 0;
  double emissivity = 0.9;  // of glass in the thermal infrared (common practice, no source)
  double sky_share = 0.5;   // of the hemisphere that it sees; a long dew shield: 0.2
  double air_w_m2_k = 6;    // exchange with calm air (common practice: 5 to 10)
};
// Temperature at which the glass settles without heat: air and sky in balance.
[[nodiscard]] double glass_temperature_c(const FrontGlass& glass, double air_c);
// Heat in watts that keeps the glass `margin_c` above the dew point, if half of the heat of a band around the tube
// reaches it (common practice, no source). 0 where it stays dry by itself.
[[nodiscard]] double heater_need_w(const FrontGlass& glass, double air_c, double humidity_percent, double margin_c);

}  // namespace ng::rig
