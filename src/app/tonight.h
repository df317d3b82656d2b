// app/tonight.h - what of the catalogue deserves this night, from this site and with this rig.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

struct TonightRequest {
  std::optional<std::filesystem::path> workspace;
  std::string date;    // local evening date; empty: this night, or by day the one that comes
  std::string filter;  // of the rig; empty: its first
  std::string kind;    // "galaxy", "nebula", "cluster", or a kind of the catalogue; empty: all
  std::string constellation;
  std::optional<double> lowest_altitude_deg;  // instead of the site's own
  double smallest_arcmin = 0;                 // 0: a thirtieth of the field's shorter side
  double largest_arcmin = 1200;
  double least_min = 30;
  double snr = 10;
  double overlap = 0.15;
  bool lines = false;  // only what shines in lines
  int count = 20;
  std::vector<std::pair<std::string, double>> collected_h;  // hours that are there already, by name
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("date", self.date);
    visit("filter", self.filter);
    visit("kind", self.kind);
    visit("constellation", self.constellation);
    visit("lowest_altitude_deg", self.lowest_altitude_deg);
    visit("smallest_arcmin", self.smallest_arcmin);
    visit("largest_arcmin", self.largest_arcmin);
    visit("least_min", self.least_min);
    visit("snr", self.snr);
    visit("overlap", self.overlap);
    visit("lines", self.lines);
    visit("count", self.count);
  }
};

struct TonightObject {
  std::string name, title, kind, constellation, host;
  double ra_deg = 0, dec_deg = 0;
  double worth_percent = 0, equivalent_min = 0, dark_min = 0;
  std::string from, to, transit;  // UTC
  std::string local_from, local_to, local_transit;
  std::optional<std::string> flip, local_flip;
  double highest_alt_deg = 0;
  std::optional<double> moon_separation_deg;  // nearest, while it is up
  std::optional<double> magnitude, surface_brightness_mag_arcsec2;
  bool brightness_assumed = false;
  double size_arcmin = 0, size_px = 0;
  int panels_across = 1, panels_up = 1;
  std::optional<double> needed_h;         // equivalent hours
  std::optional<double> tonight_percent;  // of the need
  std::vector<std::string> with_it;       // other candidates in the same field
  std::string best_month;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("title", self.title);
    visit("kind", self.kind);
    visit("constellation", self.constellation);
    visit("host", self.host);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("worth_percent", self.worth_percent);
    visit("equivalent_min", self.equivalent_min);
    visit("dark_min", self.dark_min);
    visit("from", self.from);
    visit("to", self.to);
    visit("transit", self.transit);
    visit("local_from", self.local_from);
    visit("local_to", self.local_to);
    visit("local_transit", self.local_transit);
    visit("flip", self.flip);
    visit("local_flip", self.local_flip);
    visit("highest_alt_deg", self.highest_alt_deg);
    visit("moon_separation_deg", self.moon_separation_deg);
    visit("magnitude", self.magnitude);
    visit("surface_brightness_mag_arcsec2", self.surface_brightness_mag_arcsec2);
    visit("brightness_assumed", self.brightness_assumed);
    visit("size_arcmin", self.size_arcmin);
    visit("size_px", self.size_px);
    visit("panels_across", self.panels_across);
    visit("panels_up", self.panels_up);
    visit("needed_h", self.needed_h);
    visit("tonight_percent", self.tonight_percent);
    visit("with_it", self.with_it);
    visit("best_month", self.best_month);
  }
};

struct TonightReply {
  std::string date, site, rig, filter, time_zone;
  std::optional<std::string> dark_from, dark_to, local_dark_from, local_dark_to;  // the Sun 18 degrees down
  std::optional<std::string> moonrise, moonset, local_moonrise, local_moonset;
  double dark_min = 0;
  double moon_illuminated_fraction = 0;
  double field_width_deg = 0, field_height_deg = 0, scale_arcsec_px = 0;
  std::size_t considered = 0, too_low = 0, near_sun = 0;
  double seconds = 0;  // of the search
  std::vector<TonightObject> objects;
  std::vector<std::string> notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("date", self.date);
    visit("site", self.site);
    visit("rig", self.rig);
    visit("filter", self.filter);
    visit("time_zone", self.time_zone);
    visit("dark_from", self.dark_from);
    visit("dark_to", self.dark_to);
    visit("local_dark_from", self.local_dark_from);
    visit("local_dark_to", self.local_dark_to);
    visit("moonrise", self.moonrise);
    visit("moonset", self.moonset);
    visit("local_moonrise", self.local_moonrise);
    visit("local_moonset", self.local_moonset);
    visit("dark_min", self.dark_min);
    visit("moon_illuminated_fraction", self.moon_illuminated_fraction);
    visit("field_width_deg", self.field_width_deg);
    visit("field_height_deg", self.field_height_deg);
    visit("scale_arcsec_px", self.scale_arcsec_px);
    visit("considered", self.considered);
    visit("too_low", self.too_low);
    visit("near_sun", self.near_sun);
    visit("seconds", self.seconds);
    visit("objects", self.objects);
    visit("notes", self.notes);
  }
};

// Errors: those of the workspace, and kInvalidInput, kNotFound for a date, filter, kind, constellation or name that is
// none; kTooFew when nothing of the catalogue suits, saying why.
[[nodiscard]] Result<TonightReply> tonight(const TonightRequest& request, const Context& ctx);

}  // namespace ng::app
