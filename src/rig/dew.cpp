#include "rig/dew.h"

#include <algorithm>
#include <cmath>

#include "base/angle.h"

namespace ng::rig {
namespace {

constexpr double kSlope = 17.625, kShiftC = 243.04;
constexpr double kZeroC = 273.15;

// Watts per square metre that the glass loses at a temperature; rises with it.
double loss_w_m2(const FrontGlass& g, double glass_c, double air_c) {
  return g.sky_share * radiative_loss_w_m2(g.emissivity, glass_c, clear_sky_c(air_c)) +
         g.air_w_m2_k * (glass_c - air_c);
}

}  // namespace

double saturation_pressure_hpa(double temperature_c) {
  return 6.1094 * std::exp(kSlope * temperature_c / (kShiftC + temperature_c));
}

double dew_point_c(double temperature_c, double humidity_percent) {
  const double g = std::log(humidity_percent / 100) + kSlope * temperature_c / (kShiftC + temperature_c);
  return kShiftC * g / (kSlope - g);
}

double radiative_loss_w_m2(double emissivity, double surface_c, double sky_c) {
  constexpr double kStefanBoltzmann = 5.670374419e-8;  // CODATA 2018
  return emissivity * kStefanBoltzmann * (std::pow(surface_c + kZeroC, 4) - std::pow(sky_c + kZeroC, 4));
}

double clear_sky_c(double air_c) {
  return 0.0552 * std::pow(air_c + kZeroC, 1.5) - kZeroC;
}

double glass_temperature_c(const FrontGlass& glass, double air_c) {
  double low = air_c - 60, high = air_c;  // the sky is colder than the air, and the glass between them
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (loss_w_m2(glass, middle, air_c) > 0 ? high : low) = middle;
  }
  return (low + high) / 2;
}

double heater_need_w(const FrontGlass& glass, double air_c, double humidity_percent, double margin_c) {
  constexpr double kReachesTheGlass = 0.5;
  const double wanted_c = dew_point_c(air_c, humidity_percent) + margin_c;
  const double area_m2 = kPi / 4 * glass.diameter_mm * glass.diameter_mm * 1e-6;
  return std::max(0.0, loss_w_m2(glass, wanted_c, air_c) * area_m2 / kReachesTheGlass);
}

}  // namespace ng::rig
