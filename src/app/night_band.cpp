#include "app/night_band.h"

#include <fmt/format.h>

#include <chrono>
#include <cmath>

#include "app/local_time.h"
#include "app/targets.h"
#include "app/workspace.h"
#include "base/angle.h"
#include "plan/night_steps.h"
#include "sky/extinction.h"

namespace ng::app {
namespace {

constexpr double kNearSun_deg = 30;
constexpr std::size_t kMostTargets = 12;
constexpr double kVisual_nm = 550;

Instant now() {
  using namespace std::chrono;
  return Instant::from_unix_us(duration_cast<microseconds>(system_clock::now().time_since_epoch()).count());
}

void add_events(const sky::Night& n, const LocalZone& zone, NightBandReply& reply) {
  const std::pair<const char*, const std::optional<Instant>&> events[] = {{"sunset", n.sunset},
                                                                          {"civil_dusk", n.civil_dusk},
                                                                          {"nautical_dusk", n.nautical_dusk},
                                                                          {"astronomical_dusk", n.astronomical_dusk},
                                                                          {"astronomical_dawn", n.astronomical_dawn},
                                                                          {"nautical_dawn", n.nautical_dawn},
                                                                          {"civil_dawn", n.civil_dawn},
                                                                          {"sunrise", n.sunrise},
                                                                          {"moonrise", n.moonrise},
                                                                          {"moonset", n.moonset}};
  for (const auto& [name, at] : events)
    if (at) reply.events.push_back({name, at->iso(), zone.clock(*at)});
}

Result<NightBandTarget> target_of(const std::string& name, const catalog::ObjectFile& objects,
                                  const plan::NightSteps& night, const rig::ObservingSite& site,
                                  const LocalZone& zone) {
  NG_TRY(const catalog::SkyObject object, find_object(objects, name));
  const sky::Direction of_date = night.of_date(object.place);
  NightBandTarget t;
  t.name = object.names.front();
  t.title = title_of(object);
  t.ra_deg = rad_to_deg(object.place.ra_rad);
  t.dec_deg = rad_to_deg(object.place.dec_rad);
  for (const plan::NightStep& step : night.steps()) {
    const plan::TargetAt at = night.at(step, of_date);
    t.altitude_deg.push_back(rad_to_deg(at.altitude_rad));
    t.free.push_back(t.altitude_deg.back() >= site.limit_deg(rad_to_deg(at.azimuth_rad)));
  }
  const Instant transit = night.transit(of_date);
  t.transit = transit.iso();
  t.local_transit = zone.clock(transit);
  t.near_sun = rad_to_deg(night.sun_separation_rad(of_date)) < kNearSun_deg;
  return t;
}

}  // namespace

Result<NightBandReply> night_band(const NightBandRequest& request, const Context&) {
  if (request.targets.size() > kMostTargets)
    return Error(Code::kInvalidInput,
                 fmt::format("{} targets: a band holds at most {} curves", request.targets.size(), kMostTargets));
  NG_TRY(const Workspace workspace, open_workspace(request.workspace));
  const rig::ObservingSite& site = workspace.site;
  NG_TRY(const LocalZone zone, LocalZone::find(site.time_zone));
  Instant evening = now();
  if (!request.date.empty()) {
    NG_TRY(evening, zone.moment(request.date, 18));
  }
  const double extinction =
      site.extinction_mag_airmass.value_or(sky::clear_air_extinction(site.elevation_m / 1000, kVisual_nm));
  NG_TRY(
      const plan::NightSteps night,
      plan::NightSteps::make(evening, {deg_to_rad(site.latitude_deg), deg_to_rad(site.longitude_deg), site.elevation_m},
                             {site.sky_mag_arcsec2, extinction}, 60 * request.step_min));
  NightBandReply reply;
  reply.date = zone.date(night.night().midnight.plus_seconds(-43200));
  if (night.steps().empty())
    return Error(Code::kTooFew,
                 fmt::format("on {} the Sun does not set: there is no night; choose another date", reply.date));
  reply.site = site.name;
  reply.time_zone = site.time_zone;
  const double half_s = 30 * request.step_min;
  reply.begin = night.steps().front().at.plus_seconds(-half_s).iso();
  reply.end = night.steps().back().at.plus_seconds(half_s).iso();
  reply.dark_zenith_mag_arcsec2 = site.sky_mag_arcsec2;
  reply.moon_illuminated_fraction = night.moon_phase().illuminated_fraction;
  for (const plan::NightStep& step : night.steps()) {
    reply.at.push_back(step.at.iso());
    reply.local.push_back(zone.clock(step.at));
    reply.sun_altitude_deg.push_back(rad_to_deg(step.sun_altitude_rad));
    reply.moon_altitude_deg.push_back(rad_to_deg(step.moon_altitude_rad));
    const double moon_to_zenith = kPi / 2 - step.moon_altitude_rad;
    const double ratio = night.sky_ratio(step, {kPi / 2, 0, moon_to_zenith});
    reply.zenith_mag_arcsec2.push_back(site.sky_mag_arcsec2 - 2.5 * std::log10(ratio));
  }
  add_events(night.night(), zone, reply);
  if (request.targets.empty()) return reply;
  NG_TRY(const catalog::ObjectFile objects, open_objects());
  for (const std::string& name : request.targets) {
    NG_TRY(NightBandTarget target, target_of(name, objects, night, site, zone));
    reply.targets.push_back(std::move(target));
  }
  return reply;
}

}  // namespace ng::app
