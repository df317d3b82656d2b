// app/site_night.h - a night at the person's site, and a target's way through it.
#pragma once

#include <string>
#include <vector>

#include "app/message.h"
#include "app/workspace.h"
#include "base/instant.h"
#include "base/result.h"
#include "plan/night_steps.h"

namespace ng::app {

// The night that holds `at`, or follows, in steps. Extinction is the site's, else that of clear air at its elevation.
[[nodiscard]] Result<plan::NightSteps> night_of(const rig::ObservingSite& site, Instant at, double step_min);

// A target in the darkness of a night, above limit and horizon: the Sun 18 degrees down, or 12 where it sinks no lower.
struct TargetNight {
  std::string name, title, whereabouts;
  double dec_deg = 0;
  std::string from, to, local_from, local_to;  // the first and last moment; UTC, and the site's clock
  double usable_h = 0;
  double highest_altitude_deg = 0;
  double mean_airmass = 1;
  double sky_mag_arcsec2 = 21;  // V behind it: the mean of what the sky sends, Moon and twilight included
  double surface_mag_arcsec2 = 22;
  bool brightness_assumed = false;   // of its kind
  std::vector<std::string> at;       // UTC, the whole night
  std::vector<double> altitude_deg;  // then
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("title", self.title);
    visit("whereabouts", self.whereabouts);
    visit("dec_deg", self.dec_deg);
    visit("from", self.from);
    visit("to", self.to);
    visit("local_from", self.local_from);
    visit("local_to", self.local_to);
    visit("usable_h", self.usable_h);
    visit("highest_altitude_deg", self.highest_altitude_deg);
    visit("mean_airmass", self.mean_airmass);
    visit("sky_mag_arcsec2", self.sky_mag_arcsec2);
    visit("surface_mag_arcsec2", self.surface_mag_arcsec2);
    visit("brightness_assumed", self.brightness_assumed);
    visit("at", self.at);
    visit("altitude_deg", self.altitude_deg);
  }
};
// Errors: kNotFound (the name, the zone), kInvalidInput (within 30 degrees of the Sun), kTooFew (never above its limit
// in the dark), those of night_of().
[[nodiscard]] Result<TargetNight> target_night(const rig::ObservingSite& site, const std::string& name, Instant at);

}  // namespace ng::app
