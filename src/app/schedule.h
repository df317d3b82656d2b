// app/schedule.h - the order of a night for the targets, filters and hours that a person wishes.
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

struct ScheduleWish {
  std::string name;                       // of the target in the catalogue
  std::optional<double> ra_deg, dec_deg;  // ICRS, in place of the catalogue's; for a panel
  struct Filter {
    std::string name;
    double needed_h = 2;  // at the dark zenith
    template <typename Self, typename Visitor>
    static void fields(Self& self, Visitor&& visit) {
      visit("name", self.name);
      visit("needed_h", self.needed_h);
    }
  };
  std::vector<Filter> filters;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("filters", self.filters);
  }
};
// "M 33=L:3,R:1,G:1,B:1", or with its own place "Panel 2@23.4,30.7=L:2". Errors: kInvalidInput, saying how to write it.
[[nodiscard]] Result<ScheduleWish> parse_schedule_wish(const std::string& text);

struct ScheduleRequest {
  std::optional<std::filesystem::path> workspace;
  Instant at;  // the night that holds it, or follows
  std::vector<ScheduleWish> targets;
  double step_min = 15;
  std::optional<std::filesystem::path> card, csv, calendar;  // files to write; nothing is overwritten
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("at", self.at);
    visit("targets", self.targets);
    visit("step_min", self.step_min);
    visit("card", self.card);
    visit("csv", self.csv);
    visit("calendar", self.calendar);
  }
};

struct ScheduleBlock {
  std::string begin, end;  // UTC
  std::string target, filter;
  double sub_s = 0;
  int subs = 0;
  double pause_min = 0;       // centring, filter, focus and flip within it
  double equivalent_min = 0;  // minutes at the dark zenith that it is worth
  double begin_altitude_deg = 0, end_altitude_deg = 0;
  double moon_separation_deg = 0;
  std::optional<std::string> flip;  // UTC, when the mount flips within it
  std::string why;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("begin", self.begin);
    visit("end", self.end);
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

struct ScheduleReply {
  std::string site, night;                                 // the evening's date
  std::optional<std::string> sunset, dusk, dawn, sunrise;  // UTC; dusk and dawn astronomical
  double moon_illuminated_fraction = 0;
  std::vector<ScheduleBlock> blocks;
  std::vector<ScheduleShare> shares;
  double value = 0, bound = 0, greedy_value = 0;
  std::string park, flats;  // UTC and what to do
  std::vector<std::string> files, notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("site", self.site);
    visit("night", self.night);
    visit("sunset", self.sunset);
    visit("dusk", self.dusk);
    visit("dawn", self.dawn);
    visit("sunrise", self.sunrise);
    visit("moon_illuminated_fraction", self.moon_illuminated_fraction);
    visit("blocks", self.blocks);
    visit("shares", self.shares);
    visit("value", self.value);
    visit("bound", self.bound);
    visit("greedy_value", self.greedy_value);
    visit("park", self.park);
    visit("flats", self.flats);
    visit("files", self.files);
    visit("notes", self.notes);
  }
};

// Errors: those of the workspace and the catalogue; kInvalidInput (a wish that cannot be, a target within 30 degrees of
// the Sun); kTooFew (no darkness, or nothing that rises); kExists, kIo for the files.
[[nodiscard]] Result<ScheduleReply> schedule(const ScheduleRequest& request, const Context& ctx);

}  // namespace ng::app
