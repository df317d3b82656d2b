// sky/moment.h - one moment at one site, prepared once for many directions.
//
// ICRS to apparent to observed by ERFA (IAU 2006/2000A precession and nutation, CIO based; eraApco13, eraAtciq,
// eraAtioq). Apparent directions are topocentric, of the true equator and equinox of date, with aberration (annual and
// diurnal) and light deflection by the Sun; azimuth counts from north through east. Refraction is ERFA's A tan z + B
// tan^3 z, good to 0.1 arcsec down to 15 degrees of altitude, to some arcminutes on the horizon. Polar motion (0.3
// arcsec) is left out. Checked against ERFA and astropy to 0.01 arcsec (moment_test.cpp, tests/reference/sky_check.py).
#pragma once

#include <erfa.h>

#include <array>

#include "base/instant.h"
#include "base/result.h"
#include "sky/gnomonic.h"
#include "sky/site.h"
#include "sky/time_scales.h"

namespace ng::sky {

using Vector = std::array<double, 3>;

struct Horizontal {
  double azimuth_rad = 0;   // from north through east, [0, 2 pi)
  double altitude_rad = 0;  // as seen, refraction included
};

// Motion of a star, J2000; zeros where not known.
struct StarMotion {
  double ra_rad_year = 0;  // d(RA)/dt, not multiplied by cos(dec)
  double dec_rad_year = 0;
  double parallax_arcsec = 0;
};

// Earth and Sun at the moment, ICRS axes, au and au/day.
struct EarthAndSun {
  Vector earth_au{};      // from the barycentre
  Vector earth_au_day{};  //
  Vector earth_sun_au{};  // the Earth as seen from the Sun
  Vector sun_au_day{};    // the Sun's own motion about the barycentre
  Vector observer_au{};   // the site, from the barycentre
};

class Moment {
 public:
  // Errors: kUnsupported (before 1960), kInvalidInput (a site that is not on the Earth).
  [[nodiscard]] static Result<Moment> at(Instant utc, const Site& site, double ut1_minus_utc_s = 0);

  [[nodiscard]] Instant utc() const { return utc_; }
  [[nodiscard]] const Site& site() const { return site_; }
  [[nodiscard]] const TimeScales& scales() const { return scales_; }
  [[nodiscard]] const EarthAndSun& earth_and_sun() const { return bodies_; }
  // Local apparent sidereal time, [0, 2 pi).
  [[nodiscard]] double sidereal_rad() const;

  // Apparent direction of a star given by its ICRS place (epoch J2000).
  [[nodiscard]] Direction apparent(Direction icrs, const StarMotion& motion = {}) const;
  // Apparent direction of a body of the solar system whose barycentric place, one light time ago, is given.
  [[nodiscard]] Direction apparent_of_body(const Vector& barycentric_au) const;
  [[nodiscard]] Horizontal horizontal(Direction apparent, const Air& air = {}) const;
  // West of the meridian positive, (-pi, pi].
  [[nodiscard]] double hour_angle_rad(Direction apparent) const;

 private:
  Moment() = default;
  Instant utc_;
  Site site_;
  TimeScales scales_;
  EarthAndSun bodies_;
  eraASTROM astrom_{};
  double equation_of_origins_rad_ = 0;  // ERA - GAST
};

}  // namespace ng::sky
