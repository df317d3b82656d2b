#include "sky/extinction.h"

#include <cmath>

namespace ng::sky {

double transmission(double extinction_mag_airmass, double airmass) {
  return std::pow(10.0, -0.4 * extinction_mag_airmass * airmass);
}

double clear_air_extinction(double height_km, double wavelength_nm) {
  constexpr double kVisualNm = 550;
  const double ratio = kVisualNm / wavelength_nm;
  const double molecules = 0.1451 * std::exp(-height_km / 7.996) * std::pow(ratio, 4);
  const double aerosol = 0.120 * std::exp(-height_km / 1.5) * std::pow(ratio, 1.3);
  constexpr double kOzone = 0.016;
  return molecules + kOzone + aerosol;
}

}  // namespace ng::sky
