// app/schedule.h - the order of a night for the targets, filters and hours that a person wishes.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "app/schedule_wish.h"
#include "base/context.h"
#include "base/instant.h"
#include "base/result.h"

namespace ng::app {

struct ScheduleRequest {
  std::optional<std::filesystem::path> workspace;
  Instant at;  // the night that holds it, or follows
  std::vector<ScheduleWish> targets;
  double step_min = 15;
  std::optional<std::filesystem::path> card, csv, calendar, chart;  // files to write; nothing is overwritten
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("at", self.at);
    visit("targets", self.targets);
    visit("step_min", self.step_min);
    visit("card", self.card);
    visit("csv", self.csv);
    visit("calendar", self.calendar);
    visit("chart", self.chart);
  }
};

struct ScheduleBlock {
  std::string begin, end;              // UTC
  std::string local_begin, local_end;  // in the site's zone, with its distance from UTC
  std::string target, filter;
  double sub_s = 0;
  int subs = 0;
  double pause_min = 0;       // centring, filter, focus and flip within it
  double equivalent_min = 0;  // minutes at the dark zenith that it is worth
  double begin_altitude_deg = 0, end_altitude_deg = 0;
  double moon_separation_deg = 0;
  std::optional<std::string> flip, local_flip;  // when the mount flips within it
  std::string why;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("begin", self.begin);
    visit("end", self.end);
    visit("local_begin", self.local_begin);
    visit("local_end", self.local_end);
    visit("target", self.target);
    visit("filter", self.filter);
    visit("sub_s", self.sub_s);
    visit("subs", self.subs);
    visit("pause_min", self.pause_min);
    visit("equivalent_min", self.equivalent_min);
    visit("begin_altitude_deg", self.begin_altitude_deg);
    visit("end_altitude_deg", self.end_altitude_deg);
    visit("moon_separation_deg", self.moon_separation_deg);
    visit("flip", self.flip);
    visit("local_flip", self.local_flip);
    visit("why", self.why);
  }
};

struct ScheduleShare {
  std::string target, filter;
  double needed_min = 0, gained_min = 0;  // equivalent
  double snr_share = 0;                   // of the SNR that the need stands for
  std::string trouble;                    // why it gets nothing
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("target", self.target);
    visit("filter", self.filter);
    visit("needed_min", self.needed_min);
    visit("gained_min", self.gained_min);
    visit("snr_share", self.snr_share);
    visit("trouble", self.trouble);
  }
};

// A target over the night, at the moments of ScheduleSky.
struct ScheduleCurve {
  std::string target;
  std::vector<double> altitude_deg;
  std::vector<double> limit_deg;  // below which it is not taken, at its azimuth
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("target", self.target);
    visit("altitude_deg", self.altitude_deg);
    visit("limit_deg", self.limit_deg);
  }
};

// The sky over the night: what the night chart is drawn from.
struct ScheduleSky {
  std::vector<std::string> at;  // UTC, from sunset to sunrise
  std::vector<double> sun_altitude_deg, moon_altitude_deg;
  std::vector<double> zenith_mag_arcsec2;  // V: dark sky, moonlight and twilight
  std::vector<ScheduleCurve> targets;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("at", self.at);
    visit("sun_altitude_deg", self.sun_altitude_deg);
    visit("moon_altitude_deg", self.moon_altitude_deg);
    visit("zenith_mag_arcsec2", self.zenith_mag_arcsec2);
    visit("targets", self.targets);
  }
};

struct ScheduleReply {
  std::string site, night, time_zone;                                              // the evening's date
  std::optional<std::string> sunset, dusk, dawn, sunrise;                          // UTC; dusk and dawn astronomical
  std::optional<std::string> local_sunset, local_dusk, local_dawn, local_sunrise;  // "17:04"
  double moon_illuminated_fraction = 0;
  std::vector<ScheduleBlock> blocks;
  std::vector<ScheduleShare> shares;
  double value = 0, bound = 0, greedy_value = 0;
  std::string park, flats;  // local time and what to do
  ScheduleSky sky;
  std::vector<std::string> files, notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("site", self.site);
    visit("night", self.night);
    visit("time_zone", self.time_zone);
    visit("sunset", self.sunset);
    visit("dusk", self.dusk);
    visit("dawn", self.dawn);
    visit("sunrise", self.sunrise);
    visit("local_sunset", self.local_sunset);
    visit("local_dusk", self.local_dusk);
    visit("local_dawn", self.local_dawn);
    visit("local_sunrise", self.local_sunrise);
    visit("moon_illuminated_fraction", self.moon_illuminated_fraction);
    visit("blocks", self.blocks);
    visit("shares", self.shares);
    visit("value", self.value);
    visit("bound", self.bound);
    visit("greedy_value", self.greedy_value);
    visit("park", self.park);
    visit("flats", self.flats);
    visit("sky", self.sky);
    visit("files", self.files);
    visit("notes", self.notes);
  }
};

// Errors: those of the workspace and the catalogue; kInvalidInput (a wish that cannot be, a target within 30 degrees of
// the Sun); kTooFew (no darkness, or nothing that rises); kExists, kIo for the files.
[[nodiscard]] Result<ScheduleReply> schedule(const ScheduleRequest& request, const Context& ctx);

}  // namespace ng::app
