#include "plan/schedule_bound.h"

#include <algorithm>
#include <cmath>

#include "base/parallel.h"
#include "plan/schedule_job.h"

namespace ng::plan {
namespace {

constexpr int kRounds = 500;
constexpr double kFirstStride = 0.2, kLastStride = 1e-3;
constexpr double kStrideFall = 0.7;
constexpr int kPatience = 20;  // rounds without a fall by a share of kFall
constexpr double kFall = 1e-4;
constexpr double kMemory = 0.8;     // of former directions
constexpr double kRounding = 1e-9;  // of a sum of values of order one

// One number for every condition, in rows of steps: the steps themselves, take-overs by target and by filter, and by
// target and by filter once more for each job that takes over.
class Rows {
 public:
  explicit Rows(const ScheduleProblem& p) : p_(p), steps_(p.steps()), jobs_(static_cast<int>(p.jobs.size())) {
    targets_ = static_cast<int>(p.flip_step.size());
    for (const ScheduleJob& job : p.jobs) filters_ = std::max(filters_, job.filter + 1);
  }

  [[nodiscard]] std::size_t size() const {
    return static_cast<std::size_t>(1 + targets_ + filters_ + 2 * jobs_) * static_cast<std::size_t>(steps_);
  }

  [[nodiscard]] JobPrices of_job(const std::vector<double>& prices, int job) const {
    JobPrices out;
    out.step.resize(steps_);
    out.from_target = out.from_filter = out.to_target = out.to_filter = out.step;
    add(out.step, prices, 0);
    add(out.from_target, prices, target(p_.jobs[job].target));
    add(out.from_filter, prices, filter(p_.jobs[job].filter));
    out.to_target = out.from_target;
    out.to_filter = out.from_filter;
    add(out.from_target, prices, own_target(job));
    add(out.from_filter, prices, own_filter(job));
    for (int other = 0; other < jobs_; ++other) {
      if (other == job) continue;
      if (p_.jobs[other].target == p_.jobs[job].target) add(out.to_target, prices, own_target(other));
      if (p_.jobs[other].filter == p_.jobs[job].filter) add(out.to_filter, prices, own_filter(other));
    }
    return out;
  }

  // Adds to every condition by how much the use of one job goes beyond it.
  void count(const JobUse& use, int job, std::vector<double>& excess) const {
    for (int t = 0; t < steps_; ++t) {
      if (use.taken[t]) excess[t] += 1;
      if (use.entry[t] == Entry::kFromTarget) change(excess, t, target(p_.jobs[job].target), own_target(job));
      if (use.entry[t] == Entry::kFromFilter) change(excess, t, filter(p_.jobs[job].filter), own_filter(job));
      if (use.left[t] == Entry::kFromTarget) {
        excess[target(p_.jobs[job].target) * steps_ + t] -= 1;
        for (int other = 0; other < jobs_; ++other)
          if (other != job && p_.jobs[other].target == p_.jobs[job].target) excess[own_target(other) * steps_ + t] -= 1;
      }
      if (use.left[t] == Entry::kFromFilter) {
        excess[filter(p_.jobs[job].filter) * steps_ + t] -= 1;
        for (int other = 0; other < jobs_; ++other)
          if (other != job && p_.jobs[other].filter == p_.jobs[job].filter) excess[own_filter(other) * steps_ + t] -= 1;
      }
    }
  }

 private:
  [[nodiscard]] int target(int i) const { return 1 + i; }
  [[nodiscard]] int filter(int i) const { return 1 + targets_ + i; }
  [[nodiscard]] int own_target(int job) const { return 1 + targets_ + filters_ + job; }
  [[nodiscard]] int own_filter(int job) const { return 1 + targets_ + filters_ + jobs_ + job; }
  void add(std::vector<double>& sum, const std::vector<double>& prices, int row) const {
    for (int t = 0; t < steps_; ++t) sum[t] += prices[row * steps_ + t];
  }
  void change(std::vector<double>& excess, int t, int row, int own_row) const {
    excess[row * steps_ + t] += 1;
    excess[own_row * steps_ + t] += 1;
  }

  const ScheduleProblem& p_;
  int steps_, jobs_, targets_ = 0, filters_ = 0;
};

struct Dual {
  double value = 0;
  std::vector<double> excess;
};

Result<Dual> dual_at(const ScheduleProblem& p, const Rows& rows, const std::vector<double>& prices,
                     const Context& ctx) {
  const int jobs = static_cast<int>(p.jobs.size());
  std::vector<JobUse> uses(jobs);
  NG_CHECK(parallel_for(ctx, jobs, [&](int j) { uses[j] = best_use(p, j, rows.of_job(prices, j)); }));
  Dual d;
  d.excess.assign(rows.size(), 0);
  for (int t = 0; t < p.steps(); ++t) {
    d.value += prices[t];
    d.excess[t] = -1;
  }
  for (int j = 0; j < jobs; ++j) {
    d.value += uses[j].value;
    rows.count(uses[j], j, d.excess);
  }
  return d;
}

}  // namespace

Result<double> schedule_bound(const ScheduleProblem& p, double value, double close, const Context& ctx) {
  const Rows rows(p);
  std::vector<double> prices(rows.size(), 0), direction;
  std::fill_n(prices.begin(), p.steps(), 0.6 * value / p.steps());  // near where they end, on many nights
  double bound = 0, stride = kFirstStride;
  for (const ScheduleJob& job : p.jobs) bound += job.weight;
  int without_fall = 0;
  for (int round = 0; round < kRounds && stride > kLastStride && bound * (1 - close) > value; ++round) {
    if (ctx.cancelled()) return Error(Code::kCancelled, "stopped before the schedule was made");
    NG_TRY(const Dual dual, dual_at(p, rows, prices, ctx));
    without_fall = dual.value < bound * (1 - kFall) ? 0 : without_fall + 1;
    bound = std::min(bound, dual.value);
    if (without_fall >= kPatience) {
      stride *= kStrideFall;
      without_fall = 0;
    }
    if (direction.empty()) direction = dual.excess;
    double length2 = 0;
    for (std::size_t i = 0; i < prices.size(); ++i) {
      direction[i] = (1 - kMemory) * dual.excess[i] + kMemory * direction[i];
      if (prices[i] > 0 || direction[i] > 0) length2 += direction[i] * direction[i];
    }
    if (!(length2 > 0)) break;
    const double move = stride * std::max(0.0, dual.value - value) / length2;
    for (std::size_t i = 0; i < prices.size(); ++i) prices[i] = std::max(0.0, prices[i] + move * direction[i]);
  }
  return bound + kRounding;
}

}  // namespace ng::plan
