// app/schedule_wish.h - what a person wishes of a target, in one line.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"

namespace ng::app {

struct ScheduleWish {
  std::string name;                       // of the target in the catalogue
  std::optional<double> ra_deg, dec_deg;  // ICRS, in place of the catalogue's
  int across = 1, up = 1;                 // panels
  double position_angle_deg = 0;          // of the panels' upper side, from north through east
  struct Filter {
    std::string name;
    double needed_h = 2;  // at the dark zenith; of each panel
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
    visit("across", self.across);
    visit("up", self.up);
    visit("position_angle_deg", self.position_angle_deg);
    visit("filters", self.filters);
  }
};
// "M 33=L:3,R:1,G:1,B:1"; with its own place "Old field@23.4,30.7=L:2"; with panels, and their angle, "M
// 31/3x1/125=L:2". Errors: kInvalidInput, saying how to write it.
[[nodiscard]] Result<ScheduleWish> parse_schedule_wish(const std::string& text);

}  // namespace ng::app
