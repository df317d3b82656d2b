#include "plan/schedule.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/parallel.h"
#include "plan/schedule_bound.h"
#include "plan/schedule_search.h"

namespace ng::plan {
namespace {

constexpr int kSearches = 2;            // from the greedy order, each with its own chances
constexpr double kCloseEnough = 0.004;  // of the bound: nothing sharper is sought

}  // namespace

Result<void> ScheduleProblem::validate() const {
  if (jobs.empty()) return Error(Code::kInvalidInput, "there is nothing to schedule: name a target");
  if (!(step_min > 0)) return Error(Code::kInvalidInput, "a step of the schedule must be longer than 0 minutes");
  const double longest = centring_min + filter_min + flip_min;
  if (!(longest < step_min && centring_min >= 0 && filter_min >= 0 && flip_min >= 0))
    return Error(
        Code::kInvalidInput,
        fmt::format("centring, change of filter and flip take {:.3g} minutes together, a step only {:g}: take longer "
                    "steps",
                    longest, step_min));
  for (const ScheduleJob& job : jobs) {
    if (job.worth.size() != jobs.front().worth.size())
      return Error(Code::kInvalidInput, "the jobs of a schedule cover unlike stretches of the night");
    if (job.target < 0 || job.target >= static_cast<int>(flip_step.size()))
      return Error(Code::kInvalidInput, "a job of the schedule has no target");
    if (!(job.needed_min > 0 && job.weight > 0 && job.efficiency > 0 && job.efficiency <= 1))
      return Error(Code::kInvalidInput, "need, weight and efficiency of a job must be positive");
    for (const double w : job.worth)
      if (!(w >= 0 && std::isfinite(w)))
        return Error(Code::kInvalidInput, "a minute cannot be worth less than nothing");
  }
  return {};
}

double ScheduleProblem::pause_min(int before, int job, int step) const {
  if (before == kNoJob) return centring_min + filter_min;
  const ScheduleJob &a = jobs[before], &b = jobs[job];
  double pause = 0;
  if (a.target != b.target) pause += centring_min;
  if (a.target == b.target && flip_step[b.target] == step) pause += flip_min;
  if (a.filter != b.filter) pause += filter_min;
  return pause;
}

double ScheduleProblem::gain_min(int before, int job, int step) const {
  const ScheduleJob& j = jobs[job];
  return j.worth[step] > 0 ? (step_min - pause_min(before, job, step)) * j.efficiency * j.worth[step] : 0;
}

double job_value(const ScheduleJob& job, double gained_min) {
  return job.weight * std::sqrt(std::min(1.0, gained_min / job.needed_min));
}

void evaluate_schedule(const ScheduleProblem& p, Schedule& s) {
  s.gained_min.assign(p.jobs.size(), 0);
  int before = kNoJob;
  for (int t = 0; t < static_cast<int>(s.job.size()); ++t) {
    const int j = s.job[t];
    const bool taken = j != kNoJob && p.jobs[j].worth[t] > 0;
    if (taken) s.gained_min[j] += p.gain_min(before, j, t);
    before = taken ? j : kNoJob;
  }
  s.value = 0;
  for (std::size_t j = 0; j < p.jobs.size(); ++j) s.value += job_value(p.jobs[j], s.gained_min[j]);
}

Schedule greedy_schedule(const ScheduleProblem& p) {
  Schedule s;
  s.job.assign(p.steps(), kNoJob);
  std::vector<double> gained(p.jobs.size(), 0);
  int before = kNoJob;
  for (int t = 0; t < p.steps(); ++t) {
    double most = 0;
    for (int j = 0; j < static_cast<int>(p.jobs.size()); ++j) {
      const double more = job_value(p.jobs[j], gained[j] + p.gain_min(before, j, t)) - job_value(p.jobs[j], gained[j]);
      if (more <= most) continue;
      most = more;
      s.job[t] = j;
    }
    if (s.job[t] != kNoJob) gained[s.job[t]] += p.gain_min(before, s.job[t], t);
    before = s.job[t];
  }
  evaluate_schedule(p, s);
  return s;
}

Result<Schedule> make_schedule(const ScheduleProblem& p, const Context& ctx) {
  NG_CHECK(p.validate());
  std::vector<Schedule> found(kSearches, greedy_schedule(p));
  NG_CHECK(parallel_for(ctx, kSearches, [&](int i) -> Result<void> {
    NG_TRY(found[i], improve_schedule(p, found[i], static_cast<std::uint64_t>(i) + 1, ctx.serial()));
    return {};
  }));
  Schedule best = *std::max_element(found.begin(), found.end(),
                                    [](const Schedule& a, const Schedule& b) { return a.value < b.value; });
  NG_TRY(best.bound, schedule_bound(p, best.value, kCloseEnough, ctx));
  return best;
}

}  // namespace ng::plan
