#include "app/schedule.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>

#include "app/schedule_text.h"
#include "app/targets.h"
#include "app/text_file.h"
#include "app/workspace.h"
#include "base/angle.h"
#include "plan/candidates.h"
#include "plan/exposure.h"
#include "plan/night_steps.h"
#include "plan/schedule.h"
#include "sky/extinction.h"

namespace ng::app {
namespace {

constexpr double kDarkEnoughRad = deg_to_rad(-12.0);
constexpr double kNearSunRad = deg_to_rad(30.0);
constexpr double kCoolingCPerH = 1;  // of a usual night; decides how often the focus is measured again

struct Target {
  std::string name;
  sky::Direction of_date;
  Instant flip;
  double highest_deg = -90;
};

struct JobFacts {
  std::string target, filter;
  double sub_s = 0, cycle_s = 0;
};

struct Work {
  Workspace workspace;
  plan::NightSteps night;
  std::vector<Target> targets;
  plan::ScheduleProblem problem;
  std::vector<JobFacts> facts;
};

Result<Target> find_target(const ScheduleWish& wish, const catalog::ObjectFile& objects, const plan::NightSteps& night,
                           const rig::Mount& mount) {
  Target t;
  t.name = wish.name;
  sky::Direction icrs;
  if (wish.ra_deg && wish.dec_deg) {
    icrs = {deg_to_rad(*wish.ra_deg), deg_to_rad(*wish.dec_deg)};
  } else {
    NG_TRY(const catalog::SkyObject object, find_object(objects, wish.name));
    icrs = object.place;
  }
  t.of_date = night.of_date(icrs);
  if (night.sun_separation_rad(t.of_date) < kNearSunRad)
    return Error(
        Code::kInvalidInput,
        fmt::format("{} stands within 30 degrees of the Sun: it is refused; never point any optics near the Sun "
                    "without a certified front filter",
                    wish.name));
  t.flip = night.transit(t.of_date).plus_seconds(60 * mount.past_meridian_min);
  return t;
}

// What a step is worth for a target through a filter, 0 where it cannot be taken.
double step_worth(const Work& w, const plan::NightStep& step, const plan::TargetAt& at, const plan::Imaging& imaging,
                  const plan::ExposureAdvice& advice) {
  if (step.sun_altitude_rad > kDarkEnoughRad) return 0;
  if (rad_to_deg(at.altitude_rad) < w.workspace.site.limit_deg(rad_to_deg(at.azimuth_rad))) return 0;
  const double colour = advice.extinction_mag_airmass / w.night.sky().extinction_mag_airmass;
  const double light = std::pow(w.night.light_ratio(at.altitude_rad), colour);
  return plan::minute_weight(imaging, advice.source_e_s, light, w.night.sky_ratio(step, at));
}

Result<void> add_jobs(Work& w, const ScheduleWish& wish, int target) {
  const rig::Timing& t = w.workspace.rig.timing;
  for (const ScheduleWish::Filter& wished : wish.filters) {
    NG_TRY(const rig::Filter filter, w.workspace.rig.filter(wished.name));
    plan::Conditions zenith;
    zenith.airmass = 1;
    zenith.sky_mag_arcsec2 = w.workspace.site.sky_mag_arcsec2;
    NG_TRY(const plan::ExposureAdvice advice,
           plan::advise_exposure(w.workspace.rig, filter, w.workspace.site, {}, zenith, {}));
    const double read_noise = w.workspace.rig.sensor.read_noise_e;
    plan::Imaging imaging;
    imaging.sky_e_s = advice.sky_e_s;
    imaging.other_e_s = advice.dark_e_s + read_noise * read_noise / advice.sub_s;
    plan::ScheduleJob job;
    job.target = target;
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
    w.facts.push_back({wish.name, filter.name, advice.sub_s, cycle_s});
  }
  return {};
}

Result<Work> prepare(const ScheduleRequest& r) {
  if (!(r.step_min >= 5 && r.step_min <= 60))
    return Error(Code::kInvalidInput, fmt::format("steps of {} minutes: they must lie between 5 and 60", r.step_min));
  NG_TRY(Workspace workspace, open_workspace(r.workspace));
  const rig::ObservingSite& s = workspace.site;
  const double k = s.extinction_mag_airmass.value_or(sky::clear_air_extinction(s.elevation_m / 1000, 550));
  NG_TRY(plan::NightSteps night,
         plan::NightSteps::make(r.at, {deg_to_rad(s.latitude_deg), deg_to_rad(s.longitude_deg), s.elevation_m},
                                {s.sky_mag_arcsec2, k}, 60 * r.step_min));
  const bool dark = std::any_of(night.steps().begin(), night.steps().end(),
                                [](const plan::NightStep& step) { return step.sun_altitude_rad <= kDarkEnoughRad; });
  if (!dark)
    return Error(Code::kTooFew,
                 "the Sun does not sink 12 degrees below the horizon in that night: nothing can be taken");
  Work w{std::move(workspace), std::move(night), {}, {}, {}};
  NG_TRY(const catalog::ObjectFile objects, open_objects());
  const rig::Timing& t = w.workspace.rig.timing;
  w.problem.step_min = r.step_min;
  w.problem.centring_min = t.centring_min;
  w.problem.filter_min = t.filter_change_s / 60 + (t.refocus_with_filter ? t.refocus_min : 0);
  w.problem.flip_min = w.workspace.rig.mount.flip_min;
  for (const ScheduleWish& wish : r.targets) {
    NG_TRY(Target target, find_target(wish, objects, w.night, w.workspace.rig.mount));
    const auto& steps = w.night.steps();
    const auto flip = std::find_if(steps.begin(), steps.end(), [&](const plan::NightStep& step) {
      return step.at.plus_seconds(-30 * r.step_min) >= target.flip;
    });
    const bool within = flip != steps.begin() && flip != steps.end();
    w.problem.flip_step.push_back(within ? static_cast<int>(flip - steps.begin()) : -1);
    w.targets.push_back(std::move(target));
    NG_CHECK(add_jobs(w, wish, static_cast<int>(w.targets.size()) - 1));
  }
  return w;
}

// What the night would lose if a stretch went to the job that is next best there.
std::string reason_for(const Work& w, const plan::Schedule& s, int from, int to) {
  double next = 0;
  int other = plan::kNoJob;
  for (int j = 0; j < static_cast<int>(w.problem.jobs.size()); ++j) {
    if (j == s.job[from]) continue;
    plan::Schedule trial = s;
    std::fill(trial.job.begin() + from, trial.job.begin() + to, j);
    plan::evaluate_schedule(w.problem, trial);
    if (trial.value <= next || w.problem.jobs[j].worth[from] <= 0) continue;
    next = trial.value;
    other = j;
  }
  const auto& worth = w.problem.jobs[s.job[from]].worth;
  double mean = 0;
  for (int t = from; t < to; ++t) mean += worth[t] / (to - from);
  std::string text = fmt::format("a minute is worth {:.2f} of one at the dark zenith", mean);
  if (other != plan::kNoJob)
    text += fmt::format("; with {} {} instead the night would lose {:.1f} %", w.facts[other].target,
                        w.facts[other].filter, 100 * (1 - next / s.value));
  return text;
}

std::vector<ScheduleBlock> blocks_of(const Work& w, const plan::Schedule& s) {
  std::vector<ScheduleBlock> blocks;
  const auto& steps = w.night.steps();
  const double half_s = 30 * w.problem.step_min;
  for (int a = 0, b = 0; a < static_cast<int>(s.job.size()); a = b) {
    for (b = a; b < static_cast<int>(s.job.size()) && s.job[b] == s.job[a]; ++b) {
    }
    const int j = s.job[a];
    if (j == plan::kNoJob) continue;
    const Target& target = w.targets[w.problem.jobs[j].target];
    ScheduleBlock block;
    block.begin = steps[a].at.plus_seconds(-half_s).iso();
    block.end = steps[b - 1].at.plus_seconds(half_s).iso();
    block.target = w.facts[j].target;
    block.filter = w.facts[j].filter;
    block.sub_s = w.facts[j].sub_s;
    int before = a > 0 ? s.job[a - 1] : plan::kNoJob;
    for (int t = a; t < b; ++t) {
      block.pause_min += w.problem.pause_min(before, j, t);
      block.equivalent_min += w.problem.gain_min(before, j, t);
      before = j;
    }
    const double taken_s = 60 * ((b - a) * w.problem.step_min - block.pause_min);
    block.subs = static_cast<int>(taken_s / w.facts[j].cycle_s);
    block.begin_altitude_deg = rad_to_deg(w.night.at(steps[a], target.of_date).altitude_rad);
    const plan::TargetAt last = w.night.at(steps[b - 1], target.of_date);
    block.end_altitude_deg = rad_to_deg(last.altitude_rad);
    block.moon_separation_deg = rad_to_deg(last.moon_separation_rad);
    const int flip = w.problem.flip_step[w.problem.jobs[j].target];
    if (flip >= a && flip < b) block.flip = target.flip.iso();
    block.why = reason_for(w, s, a, b);
    blocks.push_back(std::move(block));
  }
  return blocks;
}

std::string trouble_of(const Work& w, std::size_t j) {
  const plan::ScheduleJob& job = w.problem.jobs[j];
  const double best = *std::max_element(job.worth.begin(), job.worth.end());
  if (best > 0) return "left out: the night is worth more with the others";
  return fmt::format("never above its limit in the dark; {:.0f} degrees at most", w.targets[job.target].highest_deg);
}

Result<void> write_files(const ScheduleRequest& r, ScheduleReply& reply) {
  const auto us =
      std::chrono::duration_cast<std::chrono::microseconds>(std::chrono::system_clock::now().time_since_epoch());
  const auto write = [&reply](const std::optional<std::filesystem::path>& path,
                              const std::string& text) -> Result<void> {
    if (!path) return {};
    NG_CHECK(write_text(*path, text, io::Overwrite::kRefuse));
    reply.files.push_back(path->string());
    return {};
  };
  NG_CHECK(write(r.card, schedule_card(reply)));
  NG_CHECK(write(r.csv, schedule_csv(reply)));
  return write(r.calendar, schedule_calendar(reply, Instant::from_unix_us(us.count())));
}

}  // namespace

Result<ScheduleWish> parse_schedule_wish(const std::string& text) {
  const Error wrong(
      Code::kInvalidInput,
      fmt::format("'{}': write a target, its filters and the hours that each needs, like \"M 33=L:3,R:1\", or "
                  "with a place \"Panel 2@23.46,30.66=L:2\"",
                  text));
  const auto number = [](std::string_view word) -> std::optional<double> {
    double value = 0;
    const auto [end, failure] = std::from_chars(word.data(), word.data() + word.size(), value);
    if (failure != std::errc() || end != word.data() + word.size()) return std::nullopt;
    return value;
  };
  const auto equals = text.rfind('=');
  if (equals == std::string::npos || equals == 0) return wrong;
  ScheduleWish wish;
  wish.name = text.substr(0, equals);
  if (const auto at = wish.name.find('@'); at != std::string::npos) {
    const std::string place = wish.name.substr(at + 1);
    const auto comma = place.find(',');
    if (comma == std::string::npos) return wrong;
    wish.ra_deg = number(std::string_view(place).substr(0, comma));
    wish.dec_deg = number(std::string_view(place).substr(comma + 1));
    if (!wish.ra_deg || !wish.dec_deg || std::fabs(*wish.dec_deg) > 90) return wrong;
    wish.name.erase(at);
  }
  std::string_view rest = std::string_view(text).substr(equals + 1);
  while (!rest.empty()) {
    const std::string_view part = rest.substr(0, rest.find(','));
    rest.remove_prefix(std::min(rest.size(), part.size() + 1));
    ScheduleWish::Filter filter;
    const auto colon = part.find(':');
    filter.name = part.substr(0, colon);
    if (colon != std::string_view::npos) {
      const auto hours = number(part.substr(colon + 1));
      if (!hours || !(*hours > 0 && *hours <= 1000)) return wrong;
      filter.needed_h = *hours;
    }
    if (filter.name.empty()) return wrong;
    wish.filters.push_back(std::move(filter));
  }
  if (wish.filters.empty()) return wrong;
  return wish;
}

Result<ScheduleReply> schedule(const ScheduleRequest& r, const Context& ctx) {
  NG_TRY(Work w, prepare(r));
  NG_TRY(const plan::Schedule s, plan::make_schedule(w.problem, ctx));
  ScheduleReply reply;
  reply.notes = w.workspace.notes;
  reply.site = w.workspace.site.name;
  const sky::Night& night = w.night.night();
  const auto iso = [](const std::optional<Instant>& at) {
    return at ? std::optional(at->iso()) : std::optional<std::string>();
  };
  reply.night = night.noon_before.plus_seconds(240 * w.workspace.site.longitude_deg).iso().substr(0, 10);
  reply.sunset = iso(night.sunset);
  reply.dusk = iso(night.astronomical_dusk);
  reply.dawn = iso(night.astronomical_dawn);
  reply.sunrise = iso(night.sunrise);
  reply.moon_illuminated_fraction = w.night.moon_phase().illuminated_fraction;
  reply.blocks = blocks_of(w, s);
  for (std::size_t j = 0; j < w.problem.jobs.size(); ++j) {
    ScheduleShare share{w.facts[j].target, w.facts[j].filter, w.problem.jobs[j].needed_min, s.gained_min[j], 0, ""};
    share.snr_share = std::sqrt(std::min(1.0, share.gained_min / share.needed_min));
    if (!(share.gained_min > 0)) share.trouble = trouble_of(w, j);
    reply.shares.push_back(std::move(share));
  }
  if (reply.blocks.empty())
    return Error(Code::kTooFew, fmt::format("nothing can be taken in that night: {} {}", reply.shares.front().target,
                                            reply.shares.front().trouble));
  reply.value = s.value;
  reply.bound = s.bound;
  reply.greedy_value = plan::greedy_schedule(w.problem).value;
  const rig::Timing& t = w.workspace.rig.timing;
  reply.park = fmt::format("Return to park after {}: {:g} min.", reply.blocks.back().end.substr(11, 5), t.park_min);
  reply.flats = night.sunrise
                    ? fmt::format("Flats in the dawn, ready by {}: {:g} min before sunrise.",
                                  night.sunrise->plus_seconds(-60 * t.flats_min).iso().substr(11, 5), t.flats_min)
                    : fmt::format("Flats: {:g} min; there is no sunrise.", t.flats_min);
  NG_CHECK(write_files(r, reply));
  return reply;
}

}  // namespace ng::app
