#include "sky/moment.h"

#include <fmt/format.h>

#include <cmath>

#include "base/angle.h"

namespace ng::sky {

Result<Moment> Moment::at(Instant utc, const Site& site, double ut1_minus_utc_s) {
  if (!(std::fabs(site.latitude_rad) <= kPi / 2))
    return Error(Code::kInvalidInput, fmt::format("latitude {:g} degrees does not exist; it goes from -90 to 90",
                                                  rad_to_deg(site.latitude_rad)));
  if (!(std::fabs(site.longitude_rad) <= 2 * kPi))
    return Error(Code::kInvalidInput,
                 fmt::format("longitude {:g} degrees does not exist; it goes from -180 to 180, east positive",
                             rad_to_deg(site.longitude_rad)));
  if (!(site.elevation_m >= -500 && site.elevation_m <= 9000))
    return Error(Code::kInvalidInput,
                 fmt::format("nobody stands at an elevation of {:g} m; it goes from -500 to 9000", site.elevation_m));
  Moment m;
  NG_TRY(m.scales_, time_scales(utc));
  m.utc_ = utc;
  m.site_ = site;
  const int status =
      eraApco13(m.scales_.utc.day, m.scales_.utc.rest, ut1_minus_utc_s, site.longitude_rad, site.latitude_rad,
                site.elevation_m, 0, 0, 0, 0, 0, 0.55, &m.astrom_, &m.equation_of_origins_rad_);
  if (status < 0) return Error(Code::kUnsupported, fmt::format("{} cannot be computed", utc.iso()));

  double heliocentric[2][3], barycentric[2][3];
  eraEpv00(m.scales_.tt.day, m.scales_.tt.rest, heliocentric, barycentric);
  for (int i = 0; i < 3; ++i) {
    m.bodies_.earth_au[i] = barycentric[0][i];
    m.bodies_.earth_au_day[i] = barycentric[1][i];
    m.bodies_.earth_sun_au[i] = heliocentric[0][i];
    m.bodies_.sun_au_day[i] = barycentric[1][i] - heliocentric[1][i];
    m.bodies_.observer_au[i] = m.astrom_.eb[i];
  }
  return m;
}

double Moment::sidereal_rad() const {
  return eraAnp(astrom_.eral - equation_of_origins_rad_);
}

Direction Moment::apparent(Direction icrs, const StarMotion& motion) const {
  eraASTROM astrom = astrom_;  // ERFA takes it without const
  double ri = 0, di = 0;
  eraAtciq(icrs.ra_rad, icrs.dec_rad, motion.ra_rad_year, motion.dec_rad_year, motion.parallax_arcsec, 0, &astrom, &ri,
           &di);
  return {eraAnp(ri - equation_of_origins_rad_), di};
}

Direction Moment::apparent_of_body(const Vector& barycentric_au) const {
  eraASTROM astrom = astrom_;
  double seen[3], natural[3], proper[3], of_date[3], length = 0, ri = 0, di = 0;
  for (int i = 0; i < 3; ++i) seen[i] = barycentric_au[i] - bodies_.observer_au[i];
  eraPn(seen, &length, natural);
  eraAb(natural, astrom.v, astrom.em, astrom.bm1, proper);
  eraRxp(astrom.bpn, proper, of_date);
  eraC2s(of_date, &ri, &di);
  return {eraAnp(ri - equation_of_origins_rad_), di};
}

Horizontal Moment::horizontal(Direction apparent, const Air& air) const {
  eraASTROM astrom = astrom_;
  if (air.pressure_hpa > 0)
    eraRefco(air.pressure_hpa, air.temperature_c, air.relative_humidity, air.wavelength_um, &astrom.refa, &astrom.refb);
  double azimuth = 0, zenith_distance = 0, hour_angle = 0, dec = 0, ra = 0;
  eraAtioq(apparent.ra_rad + equation_of_origins_rad_, apparent.dec_rad, &astrom, &azimuth, &zenith_distance,
           &hour_angle, &dec, &ra);
  return {azimuth, kPi / 2 - zenith_distance};
}

double Moment::hour_angle_rad(Direction apparent) const {
  return eraAnpm(sidereal_rad() - apparent.ra_rad);
}

}  // namespace ng::sky
