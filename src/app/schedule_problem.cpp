#include "app/schedule_problem.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/compose.h"
#include "app/targets.h"
#include "base/angle.h"
#include "plan/candidates.h"
#include "plan/exposure.h"
#include "plan/panels.h"

namespace ng::app {
namespace {

constexpr double kDarkEnoughRad = deg_to_rad(-12.0);
constexpr double kCoolingCPerH = 1;  // of a usual night; decides how often the focus is measured again
constexpr int kFewestSubs = 2;       // that a step on a new target must hold
constexpr double kRoundSub_s = 10;   // to which a shortened sub-exposure is rounded down

struct Place {
  std::string name;
  sky::Direction icrs;
};

Result<std::vector<Place>> places_of(const ScheduleWish& wish, const catalog::ObjectFile& objects,
                                     const rig::Rig& rig) {
  sky::Direction icrs;
  if (wish.ra_deg && wish.dec_deg) {
    icrs = {deg_to_rad(*wish.ra_deg), deg_to_rad(*wish.dec_deg)};
  } else {
    NG_TRY(const catalog::SkyObject object, find_object(objects, wish.name));
    icrs = object.place;
  }
  if (wish.across * wish.up == 1) return std::vector<Place>{{wish.name, icrs}};
  const plan::Field field{icrs, deg_to_rad(wish.position_angle_deg), deg_to_rad(rig.field_width_deg()),
                          deg_to_rad(rig.field_height_deg())};
  NG_TRY(const std::vector<plan::Panel> panels,
         plan::panels_of({field, wish.across, wish.up, ComposeRequest{}.overlap}));
  std::vector<Place> places;
  for (const plan::Panel& p : panels)
    places.push_back({fmt::format("{} panel {}", wish.name, places.size() + 1), p.field.centre});
  return places;
}

// What a step is worth for a target through a filter, 0 where it cannot be taken.
double step_worth(const ScheduleWork& w, const plan::NightStep& step, const plan::TargetAt& at,
                  const plan::Imaging& imaging, const plan::ExposureAdvice& advice) {
  if (step.sun_altitude_rad > kDarkEnoughRad) return 0;
  if (rad_to_deg(at.altitude_rad) < w.workspace.site.limit_deg(rad_to_deg(at.azimuth_rad))) return 0;
  const double colour = advice.extinction_mag_airmass / w.night.sky().extinction_mag_airmass;
  const double light = std::pow(w.night.light_ratio(at.altitude_rad), colour);
  return plan::minute_weight(imaging, advice.source_e_s, light, w.night.sky_ratio(step, at));
}

// The advice for a target at the dark zenith, with a sub-exposure that a step can hold.
Result<plan::ExposureAdvice> advice_for(ScheduleWork& w, const rig::Filter& filter) {
  const rig::Timing& t = w.workspace.rig.timing;
  plan::Conditions zenith;
  zenith.airmass = 1;
  zenith.sky_mag_arcsec2 = w.workspace.site.sky_mag_arcsec2;
  plan::ExposureWish wish;
  NG_TRY(plan::ExposureAdvice advice,
         plan::advise_exposure(w.workspace.rig, filter, w.workspace.site, {}, zenith, wish));
  const double room_s = 60 * (w.problem.step_min - w.problem.centring_min - w.problem.filter_min);
  const double longest_s =
      std::floor((room_s / kFewestSubs - t.download_s - t.dither_s / t.dither_every) / kRoundSub_s) * kRoundSub_s;
  if (advice.sub_s <= longest_s || longest_s < kRoundSub_s) return advice;
  const std::string note = fmt::format(
      "{}: sub-exposures of {:g} s instead of {:g}, so that a step of {:g} min on a new target holds {}; "
      "longer ones by --step-min",
      filter.name, longest_s, advice.sub_s, w.problem.step_min, kFewestSubs);
  if (std::find(w.notes.begin(), w.notes.end(), note) == w.notes.end()) w.notes.push_back(note);
  wish.sub_s = longest_s;
  return plan::advise_exposure(w.workspace.rig, filter, w.workspace.site, {}, zenith, wish);
}

Result<void> add_job(ScheduleWork& w, const ScheduleWish::Filter& wished, int target, double weight) {
  const rig::Timing& t = w.workspace.rig.timing;
  NG_TRY(const rig::Filter filter, w.workspace.rig.filter(wished.name));
  NG_TRY(const plan::ExposureAdvice advice, advice_for(w, filter));
  const double read_noise = w.workspace.rig.sensor.read_noise_e;
  plan::Imaging imaging;
  imaging.sky_e_s = advice.sky_e_s;
  imaging.other_e_s = advice.dark_e_s + read_noise * read_noise / advice.sub_s;
  plan::ScheduleJob job;
  job.target = target;
  job.weight = weight;
  const auto& wheel = w.workspace.rig.filters;
  job.filter = static_cast<int>(
      std::find_if(wheel.begin(), wheel.end(), [&](const rig::Filter& f) { return f.name == filter.name; }) -
      wheel.begin());
  job.needed_min = 60 * wished.needed_h;
  const double cycle_s = advice.sub_s + t.download_s + t.dither_s / t.dither_every;
  const double refocus = t.refocus_every_c > 0 ? t.refocus_min / (60 * t.refocus_every_c / kCoolingCPerH) : 0;
  job.efficiency = advice.sub_s / cycle_s / (1 + refocus);
  for (const plan::NightStep& step : w.night.steps()) {
    const plan::TargetAt at = w.night.at(step, w.targets[target].of_date);
    w.targets[target].highest_deg = std::max(w.targets[target].highest_deg, rad_to_deg(at.altitude_rad));
    job.worth.push_back(step_worth(w, step, at, imaging, advice));
  }
  w.problem.jobs.push_back(std::move(job));
  w.facts.push_back({filter.name, advice.sub_s, cycle_s});
  return {};
}

// The first step that begins after the flip; -1 when all or none do.
int flip_step(const plan::NightSteps& night, Instant flip) {
  const auto& steps = night.steps();
  const auto found = std::find_if(steps.begin(), steps.end(), [&](const plan::NightStep& step) {
    return step.at.plus_seconds(-30 * night.step_min()) >= flip;
  });
  const bool within = found != steps.begin() && found != steps.end();
  return within ? static_cast<int>(found - steps.begin()) : -1;
}

Result<void> add_target(ScheduleWork& w, const ScheduleWish& wish, const catalog::ObjectFile& objects) {
  NG_TRY(const std::vector<Place> places, places_of(wish, objects, w.workspace.rig));
  for (const Place& place : places) {
    ScheduleTarget t;
    t.name = place.name;
    t.of_date = w.night.of_date(place.icrs);
    NG_CHECK(refuse_near_sun(place.name, w.night.sun_separation_rad(t.of_date)));
    t.flip = w.night.transit(t.of_date).plus_seconds(60 * w.workspace.rig.mount.past_meridian_min);
    w.problem.flip_step.push_back(flip_step(w.night, t.flip));
    w.targets.push_back(std::move(t));
    for (const ScheduleWish::Filter& wished : wish.filters)
      NG_CHECK(add_job(w, wished, static_cast<int>(w.targets.size()) - 1, 1.0 / static_cast<double>(places.size())));
  }
  return {};
}

}  // namespace

Result<ScheduleWork> schedule_problem(const ScheduleRequest& r) {
  if (!(r.step_min >= 5 && r.step_min <= 60))
    return Error(Code::kInvalidInput, fmt::format("steps of {} minutes: they must lie between 5 and 60", r.step_min));
  NG_TRY(Workspace workspace, open_workspace(r.workspace));
  NG_TRY(plan::NightSteps night, night_of(workspace.site, r.at, r.step_min));
  const bool dark = std::any_of(night.steps().begin(), night.steps().end(),
                                [](const plan::NightStep& step) { return step.sun_altitude_rad <= kDarkEnoughRad; });
  if (!dark)
    return Error(Code::kTooFew,
                 "the Sun does not sink 12 degrees below the horizon in that night: nothing can be taken; choose "
                 "another by --at");
  ScheduleWork w{std::move(workspace), std::move(night), {}, {}, {}, {}};
  w.notes = w.workspace.notes;
  NG_TRY(const catalog::ObjectFile objects, open_objects());
  const rig::Timing& t = w.workspace.rig.timing;
  w.problem.step_min = r.step_min;
  w.problem.centring_min = t.centring_min;
  w.problem.filter_min = t.filter_change_s / 60 + (t.refocus_with_filter ? t.refocus_min : 0);
  w.problem.flip_min = w.workspace.rig.mount.flip_min;
  for (const ScheduleWish& wish : r.targets) NG_CHECK(add_target(w, wish, objects));
  return w;
}

}  // namespace ng::app
