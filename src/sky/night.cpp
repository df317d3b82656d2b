#include "sky/night.h"

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "sky/sun_moon.h"

namespace ng::sky {
namespace {

constexpr double kDay_s = 86400;
constexpr double kStep_s = 600;
constexpr double kPrecision_s = 0.05;

using Height = Track::Height;

// Zero of a quantity of opposite signs at both ends, by halving.
Instant zero_between(Instant a, Instant b, const Height& height) {
  const bool rising = height(b) > 0;
  while (b.seconds_since(a) > kPrecision_s) {
    const Instant middle = a.plus_seconds(b.seconds_since(a) / 2);
    ((height(middle) > 0) == rising ? b : a) = middle;
  }
  return a.plus_seconds(b.seconds_since(a) / 2);
}

// Where |height| is least in an interval in which it bends towards zero: golden section.
Instant closest_between(Instant a, Instant b, const Height& height) {
  const double ratio = (std::sqrt(5.0) - 1) / 2;
  while (b.seconds_since(a) > 1) {
    const double span = b.seconds_since(a);
    const Instant c = b.plus_seconds(-ratio * span), d = a.plus_seconds(ratio * span);
    if (std::fabs(height(c)) < std::fabs(height(d))) {
      b = d;
    } else {
      a = c;
    }
  }
  return a;
}

std::optional<Instant> first(const std::vector<Crossing>& all, bool rising) {
  const auto it = std::find_if(all.begin(), all.end(), [&](const Crossing& c) { return c.rising == rising; });
  return it == all.end() ? std::nullopt : std::optional(it->at);
}
std::optional<Instant> last(const std::vector<Crossing>& all, bool rising) {
  const auto it = std::find_if(all.rbegin(), all.rend(), [&](const Crossing& c) { return c.rising == rising; });
  return it == all.rend() ? std::nullopt : std::optional(it->at);
}

// The last upper culmination of the Sun at or before a moment. The Sun's hour angle grows evenly to a few seconds a
// day.
Result<Instant> noon_before(Instant utc, const Site& site, double ut1_minus_utc_s) {
  NG_TRY(const Moment now, Moment::at(utc, site, ut1_minus_utc_s));
  const double turned = eraAnp(now.hour_angle_rad(sun(now).apparent));
  return utc.plus_seconds(-turned / (2 * kPi) * kDay_s);
}

}  // namespace

Track::Track(Instant from, Instant to, double step_s, Height height)
    : from_(from), to_(to), height_(std::move(height)) {
  looks_.resize(std::max<std::size_t>(3, static_cast<std::size_t>(std::ceil(to.seconds_since(from) / step_s)) + 1));
  for (std::size_t i = 0; i < looks_.size(); ++i) looks_[i] = height_(time(i));
}

Instant Track::time(std::size_t i) const {
  return from_.plus_seconds(to_.seconds_since(from_) * static_cast<double>(i) / static_cast<double>(looks_.size() - 1));
}

std::vector<Crossing> Track::crossings(double level) const {
  const Height above = [&](Instant t) { return height_(t) - level; };
  const auto up = [&](std::size_t i) { return looks_[i] > level; };
  const auto distance = [&](std::size_t i) { return std::fabs(looks_[i] - level); };
  std::vector<Crossing> found;
  for (std::size_t i = 1; i < looks_.size(); ++i) {
    if (up(i - 1) != up(i)) found.push_back({zero_between(time(i - 1), time(i), above), up(i)});
    const bool bend = i + 1 < looks_.size() && up(i - 1) == up(i) && up(i) == up(i + 1) &&
                      distance(i) < distance(i - 1) && distance(i) <= distance(i + 1);
    if (!bend) continue;
    const Instant touch = closest_between(time(i - 1), time(i + 1), above);
    if ((above(touch) > 0) == up(i)) continue;
    found.push_back({zero_between(time(i - 1), touch, above), !up(i)});
    found.push_back({zero_between(touch, time(i + 1), above), up(i)});
  }
  return found;
}

double sun_altitude_rad(Instant utc, const Site& site, double ut1_minus_utc_s) {
  const auto moment = Moment::at(utc, site, ut1_minus_utc_s);
  return moment.ok() ? moment->horizontal(sun(*moment).apparent).altitude_rad : 0;
}

double moon_limb_altitude_rad(Instant utc, const Site& site, double ut1_minus_utc_s) {
  const auto moment = Moment::at(utc, site, ut1_minus_utc_s);
  if (!moment.ok()) return 0;
  const BodyPlace place = moon(*moment);
  return moment->horizontal(place.apparent).altitude_rad + moon_semidiameter_rad(place.distance_au);
}

Result<Night> night_of(Instant utc, const Site& site, double ut1_minus_utc_s) {
  constexpr double kSunset = -50.0 / 60;
  Night night;
  NG_TRY(night.noon_before, noon_before(utc, site, ut1_minus_utc_s));
  const bool day = sun_altitude_rad(utc, site, ut1_minus_utc_s) > deg_to_rad(kSunset);
  if (day && utc.seconds_since(night.noon_before) > kDay_s / 2)
    night.noon_before = night.noon_before.plus_seconds(kDay_s);
  night.midnight = night.noon_before.plus_seconds(kDay_s / 2);
  night.noon_after = night.noon_before.plus_seconds(kDay_s);

  const Track sun_track(night.noon_before, night.noon_after, kStep_s,
                        [=](Instant t) { return sun_altitude_rad(t, site, ut1_minus_utc_s); });
  const auto set_both = [&](double degrees, std::optional<Instant>& dusk, std::optional<Instant>& dawn) {
    const auto all = sun_track.crossings(deg_to_rad(degrees));
    dusk = first(all, false);
    dawn = last(all, true);
  };
  set_both(kSunset, night.sunset, night.sunrise);
  set_both(-6, night.civil_dusk, night.civil_dawn);
  set_both(-12, night.nautical_dusk, night.nautical_dawn);
  set_both(-18, night.astronomical_dusk, night.astronomical_dawn);
  const auto moon_all = Track(night.noon_before, night.noon_after, kStep_s, [=](Instant t) {
                          return moon_limb_altitude_rad(t, site, ut1_minus_utc_s);
                        }).crossings(-kHorizonRefractionRad);
  night.moonrise = first(moon_all, true);
  night.moonset = first(moon_all, false);

  night.sun_lowest_rad = sun_altitude_rad(night.midnight, site, ut1_minus_utc_s);
  night.sun_highest_rad = std::max(sun_altitude_rad(night.noon_before, site, ut1_minus_utc_s),
                                   sun_altitude_rad(night.noon_after, site, ut1_minus_utc_s));
  return night;
}

}  // namespace ng::sky
