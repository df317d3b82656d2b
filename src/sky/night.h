// sky/night.h - the events of a night: Sun, twilights, Moon.
//
// A night goes from the Sun's upper culmination to the next; what does not happen in between is empty. Rise and set:
// the upper limb on a sea horizon, 34 arcmin of refraction; for the Sun the usual fixed -50 arcmin of its centre.
// Twilights: the centre at -6, -12 and -18 degrees, without refraction. The dip of the horizon from a height, hills and
// other air are not in it: real sunsets differ by a minute or more. Solved to 0.1 s; against an independent solver 2 s
// at most (tests/reference/sky_check.py).
#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "base/angle.h"
#include "sky/moment.h"

namespace ng::sky {

inline constexpr double kHorizonRefractionRad = deg_to_rad(34.0 / 60);

struct Crossing {
  Instant at;
  bool rising = false;
};
// A smooth quantity over a span of time, looked at every step_s once, and asked where it passes this or that level.
class Track {
 public:
  using Height = std::function<double(Instant)>;
  Track(Instant from, Instant to, double step_s, Height height);
  // In order of time, to 0.05 s. A touch between two looks is found too when the looks show a bend towards the level.
  [[nodiscard]] std::vector<Crossing> crossings(double level) const;

 private:
  [[nodiscard]] Instant time(std::size_t i) const;
  Instant from_, to_;
  Height height_;
  std::vector<double> looks_;
};

struct Night {
  Instant noon_before, midnight, noon_after;  // upper, lower, upper culmination of the Sun, to a few seconds
  std::optional<Instant> sunset, civil_dusk, nautical_dusk, astronomical_dusk;
  std::optional<Instant> astronomical_dawn, nautical_dawn, civil_dawn, sunrise;
  std::optional<Instant> moonrise, moonset;  // of this span: the rise may come before sunset, the set after sunrise
  double sun_lowest_rad = 0, sun_highest_rad = 0;  // altitude of the centre at midnight and at the higher noon
};
// The night that contains `utc`; by day, the night that follows. Errors: as Moment::at.
[[nodiscard]] Result<Night> night_of(Instant utc, const Site& site, double ut1_minus_utc_s = 0);

// Altitude of the Sun's centre and of the Moon's upper limb above the sea horizon, without refraction, in radians.
// For a site and moment that Moment::at takes.
[[nodiscard]] double sun_altitude_rad(Instant utc, const Site& site, double ut1_minus_utc_s = 0);
[[nodiscard]] double moon_limb_altitude_rad(Instant utc, const Site& site, double ut1_minus_utc_s = 0);

}  // namespace ng::sky
