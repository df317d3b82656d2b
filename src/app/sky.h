// app/sky.h - what the sky does at a place and time: Sun, Moon, planets, a target, and the events of the night.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/instant.h"
#include "base/result.h"

namespace ng::app {

struct SkyRequest {
  std::optional<std::filesystem::path> workspace;  // whose site it is when no place is given
  std::optional<double> lat_deg;                   // north positive
  std::optional<double> lon_deg;                   // east positive
  std::optional<double> elevation_m;               // none: 0, or the site's
  Instant at;
  std::string target;                     // its name, or
  std::optional<double> ra_deg, dec_deg;  // its place, ICRS
  double pressure_hpa = 0;                // 0: no refraction
  double temperature_c = 10;
  double humidity = 0.5;                         // 0..1
  double ut1_minus_utc_s = 0;                    // published weekly by the IERS; below 0.9 s
  std::optional<double> dark_sky_mag_arcsec2;    // V at the zenith, no Moon; none: 21.6, or the site's
  std::optional<double> extinction_mag_airmass;  // V; from the elevation when not given
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("lat_deg", self.lat_deg);
    visit("lon_deg", self.lon_deg);
    visit("elevation_m", self.elevation_m);
    visit("at", self.at);
    visit("target", self.target);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("pressure_hpa", self.pressure_hpa);
    visit("temperature_c", self.temperature_c);
    visit("humidity", self.humidity);
    visit("ut1_minus_utc_s", self.ut1_minus_utc_s);
    visit("dark_sky_mag_arcsec2", self.dark_sky_mag_arcsec2);
    visit("extinction_mag_airmass", self.extinction_mag_airmass);
  }
};

struct SkyBody {
  double ra_deg = 0, dec_deg = 0;  // apparent, topocentric, of date
  double alt_deg = 0, az_deg = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("alt_deg", self.alt_deg);
    visit("az_deg", self.az_deg);
  }
};

struct SkyMoon : SkyBody {
  double illuminated_fraction = 0;  // geocentric, as in almanacs
  double distance_km = 0;           // from the site
  double geocentric_distance_km = 0;
  double diameter_arcmin = 0;
  bool waxing = false;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    SkyBody::fields(self, visit);
    visit("illuminated_fraction", self.illuminated_fraction);
    visit("distance_km", self.distance_km);
    visit("geocentric_distance_km", self.geocentric_distance_km);
    visit("diameter_arcmin", self.diameter_arcmin);
    visit("waxing", self.waxing);
  }
};

struct SkyPlanet : SkyBody {
  std::string name;
  double v_mag = 0, diameter_arcsec = 0, illuminated_fraction = 0, sun_separation_deg = 0, distance_au = 0;
  std::string constellation;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    SkyBody::fields(self, visit);
    visit("v_mag", self.v_mag);
    visit("diameter_arcsec", self.diameter_arcsec);
    visit("illuminated_fraction", self.illuminated_fraction);
    visit("sun_separation_deg", self.sun_separation_deg);
    visit("distance_au", self.distance_au);
    visit("constellation", self.constellation);
  }
};

struct SkyTarget {
  std::string name;                // empty when only the place was given
  double ra_deg = 0, dec_deg = 0;  // ICRS
  double alt_deg = 0, az_deg = 0, alt_airless_deg = 0;
  std::optional<double> airmass;  // above the horizon
  double moon_separation_deg = 0, sun_separation_deg = 0;
  std::optional<double> sky_brightness_mag_arcsec2;  // V, above the horizon
  std::optional<double> extinction_mag;              // lost in the air
  double hour_angle_deg = 0, parallactic_angle_deg = 0;
  double apparent_ra_deg = 0, apparent_dec_deg = 0;
  double galactic_longitude_deg = 0, galactic_latitude_deg = 0;
  std::string constellation;
  std::string whereabouts;                        // "in Triangulum", and in which galaxy when it lies in another
  std::optional<std::string> rise, transit, set;  // from noon to noon; sea horizon
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("alt_deg", self.alt_deg);
    visit("az_deg", self.az_deg);
    visit("alt_airless_deg", self.alt_airless_deg);
    visit("airmass", self.airmass);
    visit("moon_separation_deg", self.moon_separation_deg);
    visit("sun_separation_deg", self.sun_separation_deg);
    visit("sky_brightness_mag_arcsec2", self.sky_brightness_mag_arcsec2);
    visit("extinction_mag", self.extinction_mag);
    visit("hour_angle_deg", self.hour_angle_deg);
    visit("parallactic_angle_deg", self.parallactic_angle_deg);
    visit("apparent_ra_deg", self.apparent_ra_deg);
    visit("apparent_dec_deg", self.apparent_dec_deg);
    visit("name", self.name);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("galactic_longitude_deg", self.galactic_longitude_deg);
    visit("galactic_latitude_deg", self.galactic_latitude_deg);
    visit("constellation", self.constellation);
    visit("whereabouts", self.whereabouts);
    visit("rise", self.rise);
    visit("transit", self.transit);
    visit("set", self.set);
  }
};

// UTC; what does not happen between noon and noon is empty.
struct SkyNight {
  std::optional<std::string> sunset, civil_dusk, nautical_dusk, astronomical_dusk;
  std::optional<std::string> astronomical_dawn, nautical_dawn, civil_dawn, sunrise, moonrise, moonset;
  std::string midnight;           // lower culmination of the Sun
  double sun_lowest_alt_deg = 0;  // there
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("sunset", self.sunset);
    visit("civil_dusk", self.civil_dusk);
    visit("nautical_dusk", self.nautical_dusk);
    visit("astronomical_dusk", self.astronomical_dusk);
    visit("astronomical_dawn", self.astronomical_dawn);
    visit("nautical_dawn", self.nautical_dawn);
    visit("civil_dawn", self.civil_dawn);
    visit("sunrise", self.sunrise);
    visit("moonrise", self.moonrise);
    visit("moonset", self.moonset);
    visit("midnight", self.midnight);
    visit("sun_lowest_alt_deg", self.sun_lowest_alt_deg);
  }
};

struct SkyReply {
  std::string site;  // of the workspace; empty: a place that was given
  std::string at;
  double sidereal_deg = 0;  // local, apparent
  SkyBody sun;
  SkyMoon moon;
  std::vector<SkyPlanet> planets;
  std::optional<SkyTarget> target;
  SkyNight night;
  std::vector<std::string> notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("site", self.site);
    visit("at", self.at);
    visit("sidereal_deg", self.sidereal_deg);
    visit("sun", self.sun);
    visit("moon", self.moon);
    visit("planets", self.planets);
    visit("target", self.target);
    visit("night", self.night);
    visit("notes", self.notes);
  }
};

// Errors: kInvalidInput (a place that does not exist, half a target), kNotFound (no object of that name), kUnsupported
// (before 1960).
[[nodiscard]] Result<SkyReply> sky_at(const SkyRequest& request, const Context& ctx);

}  // namespace ng::app
