#include "app/sky.h"

#include <fmt/format.h>

#include <cmath>

#include "app/targets.h"
#include "app/workspace.h"
#include "base/angle.h"
#include "sky/airmass.h"
#include "sky/constellation.h"
#include "sky/coordinates.h"
#include "sky/extinction.h"
#include "sky/night.h"
#include "sky/planets.h"
#include "sky/sky_brightness.h"

namespace ng::app {
namespace {

// Below this distance a telescope that finds its target may sweep the Sun; common practice, no source.
constexpr double kSunCaution_deg = 30;
constexpr double kVisual_nm = 550;

std::optional<std::string> text(const std::optional<Instant>& instant) {
  return instant ? std::optional(instant->iso()) : std::nullopt;
}

void place(SkyBody& out, const sky::Moment& moment, sky::Direction apparent, const sky::Air& air) {
  const sky::Horizontal h = moment.horizontal(apparent, air);
  out.ra_deg = rad_to_deg(apparent.ra_rad);
  out.dec_deg = rad_to_deg(apparent.dec_rad);
  out.alt_deg = rad_to_deg(h.altitude_rad);
  out.az_deg = rad_to_deg(h.azimuth_rad);
}

SkyNight night_of(const sky::Night& n) {
  return {text(n.sunset),
          text(n.civil_dusk),
          text(n.nautical_dusk),
          text(n.astronomical_dusk),
          text(n.astronomical_dawn),
          text(n.nautical_dawn),
          text(n.civil_dawn),
          text(n.sunrise),
          text(n.moonrise),
          text(n.moonset),
          n.midnight.iso(),
          rad_to_deg(n.sun_lowest_rad)};
}

void rise_and_set(SkyTarget& target, const sky::Moment& now, sky::Direction icrs, const sky::Night& night,
                  double ut1_minus_utc_s) {
  constexpr double kSiderealDay_s = 86164.0905;
  const sky::Track track(night.noon_before, night.noon_after, 1200, [&](Instant t) {
    const auto m = sky::Moment::at(t, now.site(), ut1_minus_utc_s);
    return m.ok() ? m->horizontal(m->apparent(icrs)).altitude_rad : 0.0;
  });
  for (const sky::Crossing& c : track.crossings(-sky::kHorizonRefractionRad))
    (c.rising ? target.rise : target.set) = c.at.iso();
  const double turns = now.hour_angle_rad(now.apparent(icrs)) / (2 * kPi);  // since the transit nearest to now
  const Instant nearest = now.utc().plus_seconds(-turns * kSiderealDay_s);
  const double later = std::ceil(night.noon_before.seconds_since(nearest) / kSiderealDay_s);
  target.transit = nearest.plus_seconds(later * kSiderealDay_s).iso();
}

struct Place {
  std::string name;
  sky::Site site;
  double dark_sky_mag_arcsec2 = 21.6;
  double extinction_mag_airmass = 0;
};

Result<Place> place_of(const SkyRequest& r) {
  if (r.lat_deg.has_value() != r.lon_deg.has_value())
    return Error(Code::kInvalidInput, "a place needs both --lat-deg and --lon-deg");
  Place p;
  double elevation_m = 0;
  std::optional<double> extinction;
  if (r.lat_deg) {
    p.site = {deg_to_rad(*r.lat_deg), deg_to_rad(*r.lon_deg), 0};
  } else {
    const Result<Workspace> w = open_workspace(r.workspace);
    if (!w.ok()) return Error(w.error()).in("sky needs --lat-deg and --lon-deg, or a workspace with its site");
    p.name = w->site.name;
    p.site = {deg_to_rad(w->site.latitude_deg), deg_to_rad(w->site.longitude_deg), 0};
    p.dark_sky_mag_arcsec2 = w->site.sky_mag_arcsec2;
    elevation_m = w->site.elevation_m;
    extinction = w->site.extinction_mag_airmass;
  }
  p.site.elevation_m = r.elevation_m.value_or(elevation_m);
  if (r.extinction_mag_airmass) extinction = r.extinction_mag_airmass;
  p.extinction_mag_airmass = extinction.value_or(sky::clear_air_extinction(p.site.elevation_m / 1000, kVisual_nm));
  p.dark_sky_mag_arcsec2 = r.dark_sky_mag_arcsec2.value_or(p.dark_sky_mag_arcsec2);
  return p;
}

struct Named {
  std::string name, whereabouts;
  sky::Direction icrs;
};

Result<std::optional<Named>> target_of(const SkyRequest& r) {
  if (!r.target.empty() && r.ra_deg) return Error(Code::kInvalidInput, "a target needs a name or a place, not both");
  if (r.ra_deg.has_value() != r.dec_deg.has_value())
    return Error(Code::kInvalidInput, "a target needs both --ra-deg and --dec-deg");
  if (!r.target.empty()) {
    NG_TRY(const catalog::ObjectFile objects, open_objects());
    NG_TRY(const catalog::SkyObject object, find_object(objects, r.target));
    return std::optional(Named{title_of(object), whereabouts(objects, object), object.place});
  }
  if (!r.ra_deg) return std::optional<Named>();
  if (!(std::fabs(*r.ra_deg) <= 360))
    return Error(Code::kInvalidInput, fmt::format("right ascension {:g} is not between 0 and 360 degrees", *r.ra_deg));
  if (!(std::fabs(*r.dec_deg) <= 90))
    return Error(Code::kInvalidInput, fmt::format("declination {:g} is not between -90 and 90 degrees", *r.dec_deg));
  const sky::Direction icrs{deg_to_rad(*r.ra_deg), deg_to_rad(*r.dec_deg)};
  return std::optional(Named{"", fmt::format("in {}", sky::constellation(icrs).name), icrs});
}

}  // namespace

Result<SkyReply> sky_at(const SkyRequest& r, const Context&) {
  NG_TRY(const std::optional<Named> named, target_of(r));
  NG_TRY(const Place here, place_of(r));
  const sky::Site& site = here.site;
  const sky::Air air{r.pressure_hpa, r.temperature_c, r.humidity, 0.55};
  NG_TRY(const sky::Moment now, sky::Moment::at(r.at, site, r.ut1_minus_utc_s));
  NG_TRY(const sky::Night night, sky::night_of(r.at, site, r.ut1_minus_utc_s));

  SkyReply reply;
  reply.site = here.name;
  reply.at = r.at.iso();
  reply.sidereal_deg = rad_to_deg(now.sidereal_rad());
  const sky::BodyPlace sun = sky::sun(now), moon = sky::moon(now);
  const sky::MoonPhase phase = sky::moon_phase(now);
  place(reply.sun, now, sun.apparent, air);
  place(reply.moon, now, moon.apparent, air);
  reply.moon.illuminated_fraction = phase.illuminated_fraction;
  reply.moon.distance_km = moon.distance_au * sky::kAuKm;
  reply.moon.geocentric_distance_km = phase.geocentric_distance_km;
  reply.moon.diameter_arcmin = 120 * rad_to_deg(sky::moon_semidiameter_rad(moon.distance_au));
  reply.moon.waxing = phase.waxing;
  for (const sky::Planet which : sky::kPlanets) {
    const sky::PlanetPlace p = sky::planet(now, which);
    SkyPlanet out;
    out.name = sky::planet_name(which);
    place(out, now, p.body.apparent, air);
    out.v_mag = p.v_mag;
    out.diameter_arcsec = p.diameter_rad * kArcsecPerRadian;
    out.illuminated_fraction = p.illuminated_fraction;
    out.sun_separation_deg = rad_to_deg(p.elongation_rad);
    out.distance_au = p.body.distance_au;
    out.constellation = sky::constellation(p.astrometric).name;
    reply.planets.push_back(out);
  }
  reply.night = night_of(night);

  if (named) {
    const sky::Direction icrs = named->icrs;
    const sky::Direction apparent = now.apparent(icrs);
    const sky::Horizontal airless = now.horizontal(apparent), seen = now.horizontal(apparent, air);
    const double k = here.extinction_mag_airmass;
    SkyTarget t;
    t.name = named->name;
    t.whereabouts = named->whereabouts;
    t.ra_deg = rad_to_deg(icrs.ra_rad);
    t.dec_deg = rad_to_deg(icrs.dec_rad);
    t.alt_deg = rad_to_deg(seen.altitude_rad);
    t.az_deg = rad_to_deg(seen.azimuth_rad);
    t.alt_airless_deg = rad_to_deg(airless.altitude_rad);
    t.moon_separation_deg = rad_to_deg(sky::separation_rad(apparent, moon.apparent));
    t.sun_separation_deg = rad_to_deg(sky::separation_rad(apparent, sun.apparent));
    if (seen.altitude_rad > 0) {
      t.airmass = sky::airmass(seen.altitude_rad);
      t.extinction_mag = k * *t.airmass;
      sky::SkyLight light;
      light.dark_zenith_mag_arcsec2 = here.dark_sky_mag_arcsec2;
      light.extinction_mag_airmass = k;
      light.target_zenith_distance_rad = kPi / 2 - seen.altitude_rad;
      light.sun_altitude_rad = now.horizontal(sun.apparent).altitude_rad;
      light.moon_zenith_distance_rad = kPi / 2 - now.horizontal(moon.apparent, air).altitude_rad;
      light.moon_separation_rad = deg_to_rad(t.moon_separation_deg);
      light.moon_phase_angle_rad = phase.phase_angle_rad;
      t.sky_brightness_mag_arcsec2 = sky::sky_mag_arcsec2(light);
    }
    t.hour_angle_deg = rad_to_deg(now.hour_angle_rad(apparent));
    t.parallactic_angle_deg =
        rad_to_deg(sky::parallactic_angle_rad(now.hour_angle_rad(apparent), apparent.dec_rad, site.latitude_rad));
    t.apparent_ra_deg = rad_to_deg(apparent.ra_rad);
    t.apparent_dec_deg = rad_to_deg(apparent.dec_rad);
    const sky::Galactic g = sky::galactic(icrs);
    t.galactic_longitude_deg = rad_to_deg(g.longitude_rad);
    t.galactic_latitude_deg = rad_to_deg(g.latitude_rad);
    t.constellation = sky::constellation(icrs).name;
    rise_and_set(t, now, icrs, night, r.ut1_minus_utc_s);
    if (t.sun_separation_deg < kSunCaution_deg)
      reply.notes.push_back(fmt::format(
          "the target is {:.0f} degrees from the Sun: never point optics near the Sun without a certified front filter",
          t.sun_separation_deg));
    reply.target = t;
  }
  if (!night.sunset && !night.sunrise)
    reply.notes.emplace_back(night.sun_lowest_rad > 0 ? "the Sun does not set" : "the Sun does not rise");
  if (!night.astronomical_dusk && night.sun_lowest_rad > deg_to_rad(-18) && night.sun_lowest_rad < 0)
    reply.notes.push_back(
        fmt::format("no astronomical darkness: the Sun is {:.1f} degrees below the horizon at its lowest",
                    -rad_to_deg(night.sun_lowest_rad)));
  if (now.scales().doubtful)
    reply.notes.push_back(
        fmt::format("leap seconds are known up to {} only; each that is missing turns the sky by 15 arcsec",
                    sky::leap_seconds_doubtful_after().iso().substr(0, 10)));
  return reply;
}

}  // namespace ng::app
