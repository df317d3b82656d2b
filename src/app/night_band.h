// app/night_band.h - a night as a band of time: darkness, Moon, and how high chosen targets stand. Plan and record
// alike are drawn over it.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

struct NightBandRequest {
  std::optional<std::filesystem::path> workspace;
  std::string date;                  // local evening date; empty: this night, or by day the one that comes
  std::vector<std::string> targets;  // by name; at most 12
  double step_min = 5;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("date", self.date);
    visit("targets", self.targets);
    visit("step_min", self.step_min);
  }
};

struct NightBandTarget {
  std::string name, title;
  double ra_deg = 0, dec_deg = 0;
  std::vector<double> altitude_deg;  // at each step, without refraction
  std::vector<bool> free;            // above the site's limit there
  std::string transit, local_transit;
  bool near_sun = false;  // within 30 degrees: not to be taken
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("title", self.title);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("altitude_deg", self.altitude_deg);
    visit("free", self.free);
    visit("transit", self.transit);
    visit("local_transit", self.local_transit);
    visit("near_sun", self.near_sun);
  }
};

// A moment of the Sun or Moon: "sunset", "civil_dusk" ... "moonset".
struct NightBandEvent {
  std::string name, at, local;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("at", self.at);
    visit("local", self.local);
  }
};

struct NightBandReply {
  std::string date, site, time_zone;
  std::string begin, end;          // UTC: sunset to sunrise, or what takes their place where the Sun does not set
  std::vector<std::string> at;     // UTC, the middle of each step
  std::vector<std::string> local;  // its clock at the site
  std::vector<double> sun_altitude_deg, moon_altitude_deg;
  std::vector<double> zenith_mag_arcsec2;  // V of the sky overhead, Moon and twilight in it
  double dark_zenith_mag_arcsec2 = 0;
  double moon_illuminated_fraction = 0;
  std::vector<NightBandEvent> events;
  std::vector<NightBandTarget> targets;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("date", self.date);
    visit("site", self.site);
    visit("time_zone", self.time_zone);
    visit("begin", self.begin);
    visit("end", self.end);
    visit("at", self.at);
    visit("local", self.local);
    visit("sun_altitude_deg", self.sun_altitude_deg);
    visit("moon_altitude_deg", self.moon_altitude_deg);
    visit("zenith_mag_arcsec2", self.zenith_mag_arcsec2);
    visit("dark_zenith_mag_arcsec2", self.dark_zenith_mag_arcsec2);
    visit("moon_illuminated_fraction", self.moon_illuminated_fraction);
    visit("events", self.events);
    visit("targets", self.targets);
  }
};

// Errors: those of open_workspace() and find_object(); kInvalidInput; kTooFew when the Sun does not set.
[[nodiscard]] Result<NightBandReply> night_band(const NightBandRequest& request, const Context& ctx);

}  // namespace ng::app
