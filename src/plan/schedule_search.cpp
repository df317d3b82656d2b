#include "plan/schedule_search.h"

#include <algorithm>
#include <cmath>

#include "math/random.h"

namespace ng::plan {
namespace {

constexpr int kMoves = 1000000;
constexpr int kMovesBetweenLooks = 50000;              // at the wish to stop
constexpr double kFirstHeat = 2e-3, kLastHeat = 1e-5;  // of the value
constexpr int kLongestFill = 6, kLongestShift = 12;    // steps

class Annealing {
 public:
  Annealing(const ScheduleProblem& p, const Schedule& s, std::uint64_t seed)
      : p_(p),
        steps_(p.steps()),
        random_(seed, 0x5c4ed),
        can_(steps_),
        job_(s.job),
        gained_(p.jobs.size(), 0),
        change_(p.jobs.size(), 0),
        is_touched_(p.jobs.size(), false) {
    for (int t = 0; t < steps_; ++t) {
      for (int j = 0; j < static_cast<int>(p.jobs.size()); ++j)
        if (p.jobs[j].worth[t] > 0) can_[t].push_back(j);
      if (!possible(job_[t], t)) job_[t] = kNoJob;
      if (job_[t] != kNoJob) gained_[job_[t]] += gain(t);
    }
    for (std::size_t j = 0; j < gained_.size(); ++j) value_ += job_value(p.jobs[j], gained_[j]);
    best_ = job_;
    best_value_ = value_;
  }

  Result<Schedule> run(const Context& ctx) {
    double heat = kFirstHeat * value_;
    const double cooling = std::pow(kLastHeat / kFirstHeat, 1.0 / kMoves);
    for (int move = 0; move < kMoves; ++move, heat *= cooling) {
      if (move % kMovesBetweenLooks == 0 && ctx.cancelled())
        return Error(Code::kCancelled, "stopped before the schedule was made");
      if (propose()) decide(heat);
    }
    Schedule s;
    s.job = best_;
    evaluate_schedule(p_, s);
    return s;
  }

 private:
  int draw(int n) { return std::min(n - 1, static_cast<int>(random_.uniform() * n)); }
  [[nodiscard]] bool possible(int job, int t) const { return job == kNoJob || p_.jobs[job].worth[t] > 0; }
  [[nodiscard]] double gain(int t) const { return p_.gain_min(t > 0 ? job_[t - 1] : kNoJob, job_[t], t); }

  // Writes what steps [from_, from_ + proposed_.size()) should become.
  bool propose() {
    const int a = draw(steps_);
    const double kind = random_.uniform();
    if (kind < 0.4) return fill(a, can_[a].empty() ? kNoJob : can_[a][draw(static_cast<int>(can_[a].size()))]);
    if (kind < 0.5) return a > 0 && fill(a, job_[a - 1]);
    if (kind < 0.6) return fill_before(a);
    return kind < 0.85 ? shift(a) : swap_stretches(a, draw(steps_));
  }
  int fill_length(int most) { return random_.uniform() < 0.5 ? 1 : 1 + draw(std::min(kLongestFill, most)); }
  bool fill(int a, int job) {
    if (job == kNoJob) return false;
    from_ = a;
    proposed_.assign(fill_length(steps_ - a), job);
    return true;
  }
  bool fill_before(int a) {  // with the job of step a
    if (a == 0 || job_[a] == kNoJob) return false;
    const int length = fill_length(a);
    from_ = a - length;
    proposed_.assign(length, job_[a]);
    return true;
  }
  bool shift(int a) {
    const int length = fill_length(steps_ - a), room = steps_ - a - length;
    if (room <= 0) return false;
    const int end = a + length + 1 + draw(std::min(kLongestShift, room));
    from_ = a;
    proposed_.assign(job_.begin() + a + length, job_.begin() + end);
    proposed_.insert(proposed_.end(), job_.begin() + a, job_.begin() + a + length);
    return true;
  }
  bool swap_stretches(int a, int b) {
    if (a > b) std::swap(a, b);
    if (job_[a] == job_[b]) return false;
    int a_end = a, b_end = b;
    while (a > 0 && job_[a - 1] == job_[a]) --a;
    while (job_[a_end] == job_[a]) ++a_end;
    while (job_[b - 1] == job_[b]) --b;
    while (b_end < steps_ && job_[b_end] == job_[b]) ++b_end;
    from_ = a;
    proposed_.assign(job_.begin() + b, job_.begin() + b_end);
    proposed_.insert(proposed_.end(), job_.begin() + a_end, job_.begin() + b);
    proposed_.insert(proposed_.end(), job_.begin() + a, job_.begin() + a_end);
    return true;
  }

  void touch(int t, double sign) {
    const int j = job_[t];
    if (j == kNoJob) return;
    if (!is_touched_[j]) {
      is_touched_[j] = true;
      change_[j] = 0;
      touched_.push_back(j);
    }
    change_[j] += sign * gain(t);
  }

  void decide(double heat) {
    const int end = from_ + static_cast<int>(proposed_.size());
    for (int t = from_; t < end; ++t)
      if (!possible(proposed_[t - from_], t)) return;
    const int last = std::min(steps_, end + 1);  // the step after it begins after another job
    touched_.clear();
    for (int t = from_; t < last; ++t) touch(t, -1);
    std::swap_ranges(proposed_.begin(), proposed_.end(), job_.begin() + from_);
    for (int t = from_; t < last; ++t) touch(t, 1);
    double more = 0;
    for (const int j : touched_) {
      is_touched_[j] = false;
      more += job_value(p_.jobs[j], std::max(0.0, gained_[j] + change_[j])) - job_value(p_.jobs[j], gained_[j]);
    }
    if (more < 0 && random_.uniform() >= std::exp(more / heat)) {
      std::swap_ranges(proposed_.begin(), proposed_.end(), job_.begin() + from_);
      return;
    }
    for (const int j : touched_) gained_[j] = std::max(0.0, gained_[j] + change_[j]);
    value_ += more;
    constexpr double kRounding = 1e-12;
    if (value_ <= best_value_ + kRounding) return;
    best_value_ = value_;
    best_ = job_;
  }

  const ScheduleProblem& p_;
  int steps_;
  math::Random random_;
  std::vector<std::vector<int>> can_;  // jobs that can be taken in each step
  std::vector<int> job_, best_;
  std::vector<double> gained_, change_;
  std::vector<char> is_touched_;
  std::vector<int> touched_;
  double value_ = 0, best_value_ = 0;
  int from_ = 0;
  std::vector<int> proposed_;
};

}  // namespace

Result<Schedule> improve_schedule(const ScheduleProblem& problem, const Schedule& schedule, std::uint64_t seed,
                                  const Context& ctx) {
  NG_TRY(Schedule best, Annealing(problem, schedule, seed).run(ctx));
  return best.value >= schedule.value ? best : schedule;
}

}  // namespace ng::plan
