// plan/schedule.h - which target through which filter when: the order of a night, with a proved bound.
//
// The night is cut into steps. A job is a target (or a panel of it) through one filter; in each step it is worth so
// many equivalent minutes per minute of exposure, 0 where it cannot be taken. What a change costs is taken from the
// first step after it. To be made as large as possible: the sum over the jobs of weight x sqrt(gained / needed), SNR
// against its need, flat beyond the need.
//
// An order is sought by annealing (plan/schedule_search.h); what no order can exceed is proved apart from it
// (plan/schedule_bound.h). What is returned carries both. For 8 targets through 4 filters over 10 hours they lie within
// 1 % of each other (schedule_test.cpp, WholeNights).
#pragma once

#include <vector>

#include "base/context.h"
#include "base/result.h"

namespace ng::plan {

struct ScheduleJob {
  int target = 0;
  int filter = 0;
  double needed_min = 60;  // equivalent minutes
  double weight = 1;
  double efficiency = 1;      // exposure over exposure and the pauses that go with each
  std::vector<double> worth;  // of a minute of exposure, in each step
};

struct ScheduleProblem {
  double step_min = 10;
  double centring_min = 3;     // on another target
  double filter_min = 3;       // to another filter, with its refocusing
  double flip_min = 6;         // when a target is kept across its flip
  std::vector<int> flip_step;  // of each target: the first step after its flip; -1: none
  std::vector<ScheduleJob> jobs;

  // kInvalidInput: no job, jobs of unlike length, a pause that is longer than a step, a negative worth.
  [[nodiscard]] Result<void> validate() const;
  [[nodiscard]] int steps() const { return jobs.empty() ? 0 : static_cast<int>(jobs.front().worth.size()); }
  // Minutes of pause at the beginning of a step, after `before` (-1: nothing was done).
  [[nodiscard]] double pause_min(int before, int job, int step) const;
  // Equivalent minutes that a job gains in a step.
  [[nodiscard]] double gain_min(int before, int job, int step) const;
};

struct Schedule {
  std::vector<int> job;            // of each step; -1: nothing
  std::vector<double> gained_min;  // equivalent, of each job
  double value = 0;
  double bound = 0;  // no schedule has more
};

inline constexpr int kNoJob = -1;

// sqrt(gained / needed), at most 1, times the weight.
[[nodiscard]] double job_value(const ScheduleJob& job, double gained_min);
// Fills gained_min and value from `job`.
void evaluate_schedule(const ScheduleProblem& problem, Schedule& schedule);
// Errors: those of validate(), kCancelled.
[[nodiscard]] Result<Schedule> make_schedule(const ScheduleProblem& problem, const Context& ctx);
// What a person does without a plan: in every step the job that gains most there. For comparison.
[[nodiscard]] Schedule greedy_schedule(const ScheduleProblem& problem);

}  // namespace ng::plan
