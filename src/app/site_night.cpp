#include "app/site_night.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/local_time.h"
#include "app/targets.h"
#include "base/angle.h"
#include "plan/object_brightness.h"
#include "sky/airmass.h"
#include "sky/extinction.h"

namespace ng::app {
namespace {

constexpr double kVisual_nm = 550;
constexpr double kStep_min = 5;
constexpr double kDarkSunRad = deg_to_rad(-18.0), kUsefulSunRad = deg_to_rad(-12.0);

}  // namespace

Result<plan::NightSteps> night_of(const rig::ObservingSite& s, Instant at, double step_min) {
  const double k = s.extinction_mag_airmass.value_or(sky::clear_air_extinction(s.elevation_m / 1000, kVisual_nm));
  return plan::NightSteps::make(at, {deg_to_rad(s.latitude_deg), deg_to_rad(s.longitude_deg), s.elevation_m},
                                {s.sky_mag_arcsec2, k}, 60 * step_min);
}

Result<TargetNight> target_night(const rig::ObservingSite& site, const std::string& name, Instant at) {
  NG_TRY(const LocalZone zone, LocalZone::find(site.time_zone));
  NG_TRY(const catalog::ObjectFile objects, open_objects());
  NG_TRY(const catalog::SkyObject object, find_object(objects, name));
  NG_TRY(const plan::NightSteps night, night_of(site, at, kStep_min));
  const sky::Direction place = night.of_date(object.place);
  NG_CHECK(refuse_near_sun(name, night.sun_separation_rad(place)));
  TargetNight t;
  t.name = object.names.front();
  t.title = title_of(object);
  t.whereabouts = whereabouts(objects, object);
  t.dec_deg = rad_to_deg(object.place.dec_rad);
  const plan::ObjectBrightness brightness = plan::object_brightness(object);
  t.surface_mag_arcsec2 = brightness.mag_arcsec2;
  t.brightness_assumed = brightness.assumed;
  const double dark = std::clamp(night.night().sun_lowest_rad + deg_to_rad(0.5), kDarkSunRad, kUsefulSunRad);
  double highest = -90, airmass = 0, light = 0;
  int usable = 0;
  for (const plan::NightStep& step : night.steps()) {
    const plan::TargetAt where = night.at(step, place);
    const double altitude = rad_to_deg(where.altitude_rad);
    t.at.push_back(step.at.iso());
    t.altitude_deg.push_back(altitude);
    if (step.sun_altitude_rad > dark) continue;
    highest = std::max(highest, altitude);
    if (altitude <= 0 || altitude < site.limit_deg(rad_to_deg(where.azimuth_rad))) continue;
    const Instant begin = step.at.plus_seconds(-30 * kStep_min), end = step.at.plus_seconds(30 * kStep_min);
    if (usable++ == 0) {
      t.from = begin.iso();
      t.local_from = zone.clock(begin);
    }
    t.to = end.iso();
    t.local_to = zone.clock(end);
    airmass += sky::airmass(where.altitude_rad);
    light += night.sky_ratio(step, where);
  }
  if (usable == 0)
    return Error(
        Code::kTooFew,
        highest <= -90
            ? fmt::format("that night is never dark: nothing of {} can be exposed; choose another by --at", name)
            : fmt::format("{} is never above its limit in the dark of that night; {:.0f} degrees at most", name,
                          highest));
  t.highest_altitude_deg = highest;
  t.usable_h = usable * kStep_min / 60;
  t.mean_airmass = airmass / usable;
  t.sky_mag_arcsec2 = site.sky_mag_arcsec2 - 2.5 * std::log10(light / usable);
  return t;
}

}  // namespace ng::app
