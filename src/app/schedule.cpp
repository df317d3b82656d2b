#include "app/schedule.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>

#include "app/local_time.h"
#include "app/night_chart.h"
#include "app/schedule_problem.h"
#include "app/schedule_text.h"
#include "app/text_file.h"
#include "base/angle.h"

namespace ng::app {
namespace {

constexpr double kCurveStep_min = 5;

// What the night would lose if a stretch went to the job that is next best there.
std::string reason_for(const ScheduleWork& w, const plan::Schedule& s, int from, int to) {
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
    text += fmt::format("; with {} {} instead the night would lose {:.1f} %", w.target_of(other).name,
                        w.facts[other].filter, 100 * (1 - next / s.value));
  return text;
}

// The steps [from, to) of one job.
ScheduleBlock block_of(const ScheduleWork& w, const LocalZone& zone, const plan::Schedule& s, int from, int to) {
  const auto& steps = w.night.steps();
  const double half_s = 30 * w.problem.step_min;
  const int j = s.job[from];
  const ScheduleTarget& target = w.target_of(j);
  const Instant begin = steps[from].at.plus_seconds(-half_s), end = steps[to - 1].at.plus_seconds(half_s);
  ScheduleBlock block;
  block.begin = begin.iso();
  block.end = end.iso();
  block.local_begin = zone.iso(begin);
  block.local_end = zone.iso(end);
  block.target = target.name;
  block.filter = w.facts[j].filter;
  block.sub_s = w.facts[j].sub_s;
  int before = from > 0 ? s.job[from - 1] : plan::kNoJob;
  const int flip = w.problem.flip_step[w.problem.jobs[j].target];
  const bool kept = before != plan::kNoJob && w.problem.jobs[before].target == w.problem.jobs[j].target;
  if ((flip > from && flip < to) || (flip == from && kept)) {
    block.flip = target.flip.iso();
    block.local_flip = zone.clock(target.flip);
  }
  for (int t = from; t < to; ++t) {
    block.pause_min += w.problem.pause_min(before, j, t);
    block.equivalent_min += w.problem.gain_min(before, j, t);
    before = j;
  }
  const double taken_s = 60 * ((to - from) * w.problem.step_min - block.pause_min);
  block.subs = static_cast<int>(taken_s / w.facts[j].cycle_s);
  block.begin_altitude_deg = rad_to_deg(w.night.at(steps[from], target.of_date).altitude_rad);
  const plan::TargetAt last = w.night.at(steps[to - 1], target.of_date);
  block.end_altitude_deg = rad_to_deg(last.altitude_rad);
  block.moon_separation_deg = rad_to_deg(last.moon_separation_rad);
  block.why = reason_for(w, s, from, to);
  return block;
}

std::vector<ScheduleBlock> blocks_of(const ScheduleWork& w, const LocalZone& zone, const plan::Schedule& s) {
  std::vector<ScheduleBlock> blocks;
  const int steps = static_cast<int>(s.job.size());
  for (int a = 0, b = 0; a < steps; a = b) {
    while (b < steps && s.job[b] == s.job[a]) ++b;
    if (s.job[a] != plan::kNoJob) blocks.push_back(block_of(w, zone, s, a, b));
  }
  return blocks;
}

std::vector<ScheduleShare> shares_of(const ScheduleWork& w, const plan::Schedule& s) {
  std::vector<ScheduleShare> shares;
  for (int j = 0; j < static_cast<int>(w.problem.jobs.size()); ++j) {
    const plan::ScheduleJob& job = w.problem.jobs[j];
    ScheduleShare share{w.target_of(j).name, w.facts[j].filter, job.needed_min, s.gained_min[j], 0, ""};
    share.snr_share = std::sqrt(std::min(1.0, share.gained_min / share.needed_min));
    if (!(share.gained_min > 0))
      share.trouble =
          *std::max_element(job.worth.begin(), job.worth.end()) > 0
              ? "left out: the night is worth more with the others"
              : fmt::format("never above its limit in the dark; {:.0f} degrees at most", w.target_of(j).highest_deg);
    shares.push_back(std::move(share));
  }
  return shares;
}

Result<ScheduleSky> sky_of(const ScheduleWork& w, Instant at) {
  NG_TRY(const plan::NightSteps night, night_of(w.workspace.site, at, kCurveStep_min));
  ScheduleSky sky;
  for (const ScheduleTarget& t : w.targets) sky.targets.push_back({t.name, {}, {}});
  for (const plan::NightStep& step : night.steps()) {
    sky.at.push_back(step.at.iso());
    sky.sun_altitude_deg.push_back(rad_to_deg(step.sun_altitude_rad));
    sky.moon_altitude_deg.push_back(rad_to_deg(step.moon_altitude_rad));
    const plan::TargetAt zenith{kPi / 2, 0, kPi / 2 - step.moon_altitude_rad};
    sky.zenith_mag_arcsec2.push_back(night.sky().dark_zenith_mag_arcsec2 -
                                     2.5 * std::log10(night.sky_ratio(step, zenith)));
    for (std::size_t i = 0; i < w.targets.size(); ++i) {
      const plan::TargetAt place = night.at(step, w.targets[i].of_date);
      sky.targets[i].altitude_deg.push_back(rad_to_deg(place.altitude_rad));
      sky.targets[i].limit_deg.push_back(w.workspace.site.limit_deg(rad_to_deg(place.azimuth_rad)));
    }
  }
  return sky;
}

void describe_night(const ScheduleWork& w, const LocalZone& zone, ScheduleReply& reply) {
  const sky::Night& night = w.night.night();
  const auto both = [&](const std::optional<Instant>& at, std::optional<std::string>& utc,
                        std::optional<std::string>& local) {
    if (!at) return;
    utc = at->iso();
    local = zone.clock(*at);
  };
  reply.site = w.workspace.site.name;
  reply.time_zone = w.workspace.site.time_zone;
  reply.night = zone.date(night.midnight.plus_seconds(-43200));
  both(night.sunset, reply.sunset, reply.local_sunset);
  both(night.astronomical_dusk, reply.dusk, reply.local_dusk);
  both(night.astronomical_dawn, reply.dawn, reply.local_dawn);
  both(night.sunrise, reply.sunrise, reply.local_sunrise);
  reply.moon_illuminated_fraction = w.night.moon_phase().illuminated_fraction;
  const rig::Timing& t = w.workspace.rig.timing;
  reply.flats = night.sunrise ? fmt::format("Flats in the dawn, ready by {}: {:g} min before sunrise.",
                                            zone.clock(night.sunrise->plus_seconds(-60 * t.flats_min)), t.flats_min)
                              : fmt::format("Flats: {:g} min; there is no sunrise.", t.flats_min);
}

void note_lack(const ScheduleWork& w, ScheduleReply& reply) {
  const sky::Night& night = w.night.night();
  if (!night.astronomical_dusk || !night.astronomical_dawn) return;
  const double dark_h = night.astronomical_dawn->seconds_since(*night.astronomical_dusk) / 3600;
  double needed_h = 0;
  for (const ScheduleShare& share : reply.shares) needed_h += share.needed_min / 60;
  if (needed_h > dark_h)
    reply.notes.push_back(
        fmt::format("the targets need {:.0f} h together, more than the {:.1f} h of darkness: the order makes the best "
                    "of it, and the "
                    "SNR shares tell what is left for other nights",
                    needed_h, dark_h));
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
  NG_CHECK(write(r.calendar, schedule_calendar(reply, Instant::from_unix_us(us.count()))));
  if (!r.chart) return {};
  NG_CHECK(draw_night_chart(reply, *r.chart, io::Overwrite::kRefuse));
  reply.files.push_back(r.chart->string());
  return {};
}

}  // namespace

Result<ScheduleReply> schedule(const ScheduleRequest& r, const Context& ctx) {
  NG_TRY(const ScheduleWork w, schedule_problem(r));
  NG_TRY(const LocalZone zone, LocalZone::find(w.workspace.site.time_zone));
  NG_TRY(const plan::Schedule s, plan::make_schedule(w.problem, ctx));
  ScheduleReply reply;
  reply.notes = w.notes;
  describe_night(w, zone, reply);
  reply.blocks = blocks_of(w, zone, s);
  reply.shares = shares_of(w, s);
  if (reply.blocks.empty())
    return Error(Code::kTooFew, fmt::format("nothing can be taken in that night: {} {}", reply.shares.front().target,
                                            reply.shares.front().trouble));
  const Instant end = *Instant::parse(reply.blocks.back().end);
  reply.park =
      fmt::format("Return to park after {}: {:g} min.", zone.iso(end).substr(11, 5), w.workspace.rig.timing.park_min);
  note_lack(w, reply);
  reply.value = s.value;
  reply.bound = s.bound;
  reply.greedy_value = plan::greedy_schedule(w.problem).value;
  NG_TRY(reply.sky, sky_of(w, r.at));
  NG_CHECK(write_files(r, reply));
  return reply;
}

}  // namespace ng::app
