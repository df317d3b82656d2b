#include "plan/night_steps.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "sky/airmass.h"
#include "sky/coordinates.h"
#include "sky/extinction.h"

namespace ng::plan {
namespace {

constexpr double kSiderealDay_s = 86164.0905;

sky::Vector unit(sky::Direction d) {
  const double c = std::cos(d.dec_rad);
  return {c * std::cos(d.ra_rad), c * std::sin(d.ra_rad), std::sin(d.dec_rad)};
}

// Sunset to sunrise; all of the span when the Sun does not rise, nothing when it does not set.
std::pair<Instant, Instant> span_of(const sky::Night& n) {
  if (n.sunset || n.sunrise) return {n.sunset.value_or(n.noon_before), n.sunrise.value_or(n.noon_after)};
  if (n.sun_lowest_rad > 0) return {n.midnight, n.midnight};
  return {n.noon_before, n.noon_after};
}

}  // namespace

Result<NightSteps> NightSteps::make(Instant utc, const sky::Site& site, const SiteSky& sky, double step_s) {
  if (!(step_s >= 60 && step_s <= 3600))
    return Error(Code::kInvalidInput, fmt::format("steps of {:g} s do not suit a night; take 60 to 3600", step_s));
  NG_TRY(const sky::Night night, sky::night_of(utc, site));
  NG_TRY(sky::Moment midnight, sky::Moment::at(night.midnight, site));
  NightSteps n(std::move(midnight));
  n.night_ = night;
  n.site_ = site;
  n.sky_ = sky;
  n.step_s_ = step_s;
  n.phase_ = sky::moon_phase(n.midnight_);
  n.sun_ = sky::sun(n.midnight_).apparent;
  const auto [from, to] = span_of(night);
  const int count = static_cast<int>(std::floor(to.seconds_since(from) / step_s));
  for (int i = 0; i < count; ++i) {
    NG_TRY(const sky::Moment m, sky::Moment::at(from.plus_seconds((i + 0.5) * step_s), site));
    const sky::BodyPlace moon = sky::moon(m);
    n.steps_.push_back({m.utc(), m.sidereal_rad(), m.horizontal(sky::sun(m).apparent).altitude_rad,
                        m.horizontal(moon.apparent).altitude_rad, unit(moon.apparent),
                        sky::moon_phase(m).phase_angle_rad});
  }
  return n;
}

TargetAt NightSteps::at(const NightStep& step, sky::Direction d) const {
  const double h = step.sidereal_rad - d.ra_rad;
  const double sl = std::sin(site_.latitude_rad), cl = std::cos(site_.latitude_rad);
  const double sd = std::sin(d.dec_rad), cd = std::cos(d.dec_rad), ch = std::cos(h);
  const double up = sl * sd + cl * cd * ch, north = cl * sd - sl * cd * ch, east = -cd * std::sin(h);
  const sky::Vector u = unit(d);
  const double along = u[0] * step.moon[0] + u[1] * step.moon[1] + u[2] * step.moon[2];
  TargetAt t;
  t.altitude_rad = std::asin(std::clamp(up, -1.0, 1.0));
  const double azimuth = std::atan2(east, north);
  t.azimuth_rad = azimuth < 0 ? azimuth + 2 * kPi : azimuth;
  t.moon_separation_rad = std::acos(std::clamp(along, -1.0, 1.0));
  return t;
}

Instant NightSteps::transit(sky::Direction d) const {
  return midnight_.utc().plus_seconds(-midnight_.hour_angle_rad(d) / (2 * kPi) * kSiderealDay_s);
}

double NightSteps::sun_separation_rad(sky::Direction d) const {
  return sky::separation_rad(d, sun_);
}

double NightSteps::sky_ratio(const NightStep& step, const TargetAt& target) const {
  sky::SkyLight light;
  light.dark_zenith_mag_arcsec2 = sky_.dark_zenith_mag_arcsec2;
  light.extinction_mag_airmass = sky_.extinction_mag_airmass;
  light.target_zenith_distance_rad = kPi / 2 - target.altitude_rad;
  light.sun_altitude_rad = step.sun_altitude_rad;
  light.moon_zenith_distance_rad = kPi / 2 - step.moon_altitude_rad;
  light.moon_separation_rad = target.moon_separation_rad;
  light.moon_phase_angle_rad = step.moon_phase_angle_rad;
  return std::pow(10.0, 0.4 * (sky_.dark_zenith_mag_arcsec2 - sky::sky_mag_arcsec2(light)));
}

double NightSteps::light_ratio(double altitude_rad) const {
  return sky::transmission(sky_.extinction_mag_airmass, sky::airmass(altitude_rad) - 1);
}

}  // namespace ng::plan
