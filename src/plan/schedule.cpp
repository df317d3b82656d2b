#include "plan/schedule.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "math/random.h"
#include "plan/schedule_path.h"

namespace ng::plan {
namespace {

constexpr int kPriceRounds = 600;
constexpr int kLongestStretch = 12;                    // steps that change at once
constexpr int kMoves = 400000;                         // of one annealing
constexpr double kFirstHeat = 3e-3, kLastHeat = 3e-6;  // of the value
constexpr double kCloseEnough = 2e-3;                  // of the bound: nothing more is sought
constexpr int kBeginnings = 2;                         // sequences from which stretches are changed

// max over y in [0, needed] of weight sqrt(y / needed) - price y, and the y that has it.
struct Conjugate {
  double value, minutes;
};
Conjugate conjugate(const ScheduleJob& job, double price) {
  const double n = job.needed_min;
  const double y = price > 0 ? std::min(n, job.weight * job.weight / (4 * price * price * n)) : n;
  return {job.weight * std::sqrt(y / n) - price * y, y};
}

// Simulated annealing (Kirkpatrick, Gelatt & Vecchi 1983, Science 220, 671), seeded: a stretch of steps goes to another
// job, two stretches change places, or the end of a stretch moves; what loses is taken with falling probability.
void anneal(const ScheduleProblem& p, Schedule& s, std::uint64_t seed) {
  const int steps = p.steps(), jobs = static_cast<int>(p.jobs.size());
  math::Random random(seed, 0x5c4ed);
  const auto draw = [&random](int n) { return std::min(n - 1, static_cast<int>(random.uniform() * n)); };
  Schedule now = s, trial = s;
  double heat = kFirstHeat * s.value;
  const double cooling = std::pow(kLastHeat / kFirstHeat, 1.0 / kMoves);
  for (int move = 0; move < kMoves; ++move, heat *= cooling) {
    trial.job = now.job;
    const int a = draw(steps), length = 1 + draw(std::min(kLongestStretch, steps - a));
    const double kind = random.uniform();
    if (kind < 0.5) {  // to any job that can be taken there, or to that of the neighbour
      const int j = draw(jobs);
      if (p.jobs[j].worth[a] <= 0) continue;
      std::fill_n(trial.job.begin() + a, length, j);
    } else if (kind < 0.75) {
      const int from = kind < 0.625 ? a - 1 : a + length;
      if (from < 0 || from >= steps) continue;
      std::fill_n(trial.job.begin() + a, length, now.job[from]);
    } else {
      const int room = steps - a - length;
      if (room <= 0) continue;
      std::rotate(trial.job.begin() + a, trial.job.begin() + a + length,
                  trial.job.begin() + a + length + 1 + draw(std::min(kLongestStretch, room)));
    }
    evaluate_schedule(p, trial);
    if (trial.value < now.value && random.uniform() >= std::exp((trial.value - now.value) / heat)) continue;
    std::swap(now, trial);
    if (now.value > s.value) s = now;
  }
}

// The beginnings, best first, without doubles.
void keep_beginning(std::vector<Schedule>& best, const Schedule& s) {
  for (const Schedule& other : best)
    if (other.job == s.job) return;
  best.push_back(s);
  std::sort(best.begin(), best.end(), [](const Schedule& a, const Schedule& b) { return a.value > b.value; });
  if (best.size() > kBeginnings) best.pop_back();
}

}  // namespace

Result<void> ScheduleProblem::validate() const {
  if (jobs.empty()) return Error(Code::kInvalidInput, "there is nothing to schedule: name a target");
  if (!(step_min > 0)) return Error(Code::kInvalidInput, "a step of the schedule must be longer than 0 minutes");
  const double longest = centring_min + filter_min + flip_min;
  if (!(longest < step_min && centring_min >= 0 && filter_min >= 0 && flip_min >= 0))
    return Error(
        Code::kInvalidInput,
        fmt::format("centring, change of filter and flip take {} minutes together, a step only {}: take longer "
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
  const std::size_t n = p.jobs.size();
  std::vector<Schedule> beginnings{greedy_schedule(p)};
  double value = beginnings.front().value;
  std::vector<double> prices(n), best_prices;
  for (std::size_t j = 0; j < n; ++j) prices[j] = p.jobs[j].weight / (2 * p.jobs[j].needed_min);
  double bound = INFINITY;
  double stride = 1;
  int since_better = 0;
  ctx.begin("scheduling", kPriceRounds);
  for (int round = 0; round < kPriceRounds && value < bound * (1 - 1e-6); ++round) {
    if (ctx.cancelled()) return Error(Code::kCancelled, "stopped before the schedule was made");
    ctx.advance();
    Schedule path;
    double dual = best_path(p, prices, path.job);
    evaluate_schedule(p, path);
    keep_beginning(beginnings, path);
    value = std::max(value, path.value);
    double length2 = 0;
    std::vector<double> slope(n);
    for (std::size_t j = 0; j < n; ++j) {
      const Conjugate c = conjugate(p.jobs[j], prices[j]);
      dual += c.value;
      slope[j] = (path.gained_min[j] - c.minutes) / p.jobs[j].needed_min;  // by price times need: all of one size
      length2 += slope[j] * slope[j];
    }
    if (dual < bound - 1e-9) {
      bound = dual;
      best_prices = prices;
      since_better = 0;
    } else if (++since_better == 20) {
      stride /= 2;
      since_better = 0;
    }
    if (!(length2 > 1e-18)) break;
    const double move = stride * (dual - value) / length2;
    for (std::size_t j = 0; j < n; ++j) prices[j] = std::max(1e-9, prices[j] - move * slope[j] / p.jobs[j].needed_min);
  }
  Schedule best = beginnings.front();
  std::uint64_t seed = 0;
  for (Schedule& s : beginnings) {
    if (ctx.cancelled()) return Error(Code::kCancelled, "stopped before the schedule was made");
    anneal(p, s, ++seed);
    if (s.value > best.value) best = s;
    if (best.value >= bound * (1 - kCloseEnough)) break;
  }
  // Steps in which the job cannot be taken count as nothing done; say so.
  for (std::size_t t = 0; t < best.job.size(); ++t)
    if (best.job[t] != kNoJob && p.jobs[best.job[t]].worth[t] <= 0) best.job[t] = kNoJob;
  best.bound = std::max(bound, best.value);
  best.prices = best_prices;
  return best;
}

}  // namespace ng::plan
