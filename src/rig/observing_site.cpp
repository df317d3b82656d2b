#include "rig/observing_site.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace ng::rig {

Result<void> ObservingSite::validate() const {
  struct Limit {
    const char* field;
    double value, low, high;
  };
  for (const Limit& l :
       {Limit{"latitude_deg", latitude_deg, -90, 90}, Limit{"longitude_deg", longitude_deg, -180, 360},
        Limit{"elevation_m", elevation_m, -450, 9000}, Limit{"sky_mag_arcsec2", sky_mag_arcsec2, 14, 22.5},
        Limit{"sky_b_minus_v", sky_b_minus_v, -0.4, 2.2},
        Limit{"extinction_mag_airmass", extinction_mag_airmass.value_or(0.2), 0.05, 2},
        Limit{"seeing_fwhm_arcsec", seeing_fwhm_arcsec, 0.3, 20}, Limit{"temperature_c", temperature_c, -60, 50},
        Limit{"humidity_percent", humidity_percent, 1, 100},
        Limit{"pressure_hpa", pressure_hpa.value_or(1013), 300, 1100},
        Limit{"lowest_altitude_deg", lowest_altitude_deg, 0, 89}})
    if (!(l.value >= l.low && l.value <= l.high))
      return Error(Code::kInvalidInput,
                   fmt::format("site: {} is {}: it must lie between {} and {}", l.field, l.value, l.low, l.high));
  return horizon.validate();
}

double ObservingSite::air_pressure_hpa() const {
  return pressure_hpa.value_or(1013.25 * std::pow(1 - 2.25577e-5 * elevation_m, 5.25588));
}

double ObservingSite::limit_deg(double azimuth_deg) const {
  return std::max(lowest_altitude_deg, horizon.altitude_deg(azimuth_deg));
}

}  // namespace ng::rig
