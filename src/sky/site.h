// sky/site.h - where the observer stands, and the air above.
#pragma once

namespace ng::sky {

struct Site {
  double latitude_rad = 0;   // geodetic (WGS84), north positive, [-pi/2, pi/2]
  double longitude_rad = 0;  // east positive
  double elevation_m = 0;    // above the ellipsoid; height above the sea will do
};

// What bends light. A pressure of 0 means no refraction.
struct Air {
  double pressure_hpa = 0;         // at the site, not reduced to sea level
  double temperature_c = 10;       //
  double relative_humidity = 0.5;  // 0..1
  double wavelength_um = 0.55;     // the eye and broadband filters; red light is bent 1 % less
};

}  // namespace ng::sky
