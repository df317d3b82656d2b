// rig/observing_site.h - the place where the telescope stands, as the person describes it. Values only.
#pragma once

#include <optional>
#include <string>

#include "base/result.h"
#include "rig/horizon.h"

namespace ng::rig {

struct ObservingSite {
  std::string name;
  double latitude_deg = 0;   // north positive
  double longitude_deg = 0;  // east positive
  double elevation_m = 0;
  std::string time_zone = "UTC";  // a name of the system's time zone database

  double sky_mag_arcsec2 = 21;                   // V at the zenith, moonless
  double sky_b_minus_v = 0.93;                   // dark sky: Krisciunas 1997, PASP 109, 1181
  std::optional<double> extinction_mag_airmass;  // in V; none: clear air of this elevation
  double seeing_fwhm_arcsec = 3;                 // of star images at the zenith, long exposures

  double temperature_c = 5;            // of a usual night
  double humidity_percent = 80;        // relative, of a usual night
  std::optional<double> pressure_hpa;  // at the site; none: that of the standard atmosphere at this elevation
  double lowest_altitude_deg = 0;      // below which this person does not photograph
  Horizon horizon;

  [[nodiscard]] Result<void> validate() const;  // kInvalidInput, naming field and value
  // As stated, or of the ICAO standard atmosphere (ICAO Doc 7488): 1013.25 (1 - 2.25577e-5 h)^5.25588 hPa.
  [[nodiscard]] double air_pressure_hpa() const;
  // The lowest altitude at which a target is taken, at an azimuth: horizon or the person's own limit.
  [[nodiscard]] double limit_deg(double azimuth_deg) const;
};

}  // namespace ng::rig
