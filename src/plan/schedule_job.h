// plan/schedule_job.h - the best use of a night by one job alone, when steps and changes have prices.
//
// A job takes stretches of consecutive steps. Each step costs its price. How a stretch begins decides its pause: afresh
// (centring and filter), taken over from a job of the same target (filter, and the flip in its step), or from one
// through the same filter (centring); taking over costs a price of its own, and leaving a step to the next job earns
// one. Sought is the largest value of all that is gained, less prices. Exact: dynamic programming over steps whose
// states are pairs (gained, paid) of which neither is worse than another's in both, cut by a bound: with a slope s,
// value <= conj(s) + s gained, and what is linear has a plain recursion (derived).
#pragma once

#include <vector>

#include "plan/schedule.h"

namespace ng::plan {

// One entry for each step; the entries of a change stand at the first step after it.
struct JobPrices {
  std::vector<double> step;
  std::vector<double> from_target, from_filter;  // paid by who takes over from a job of that kind
  std::vector<double> to_target, to_filter;      // earned by who leaves for the sake of a job of that kind
};

enum class Entry { kNone, kFresh, kFromTarget, kFromFilter };

struct JobUse {
  std::vector<bool> taken;   // of each step
  std::vector<Entry> entry;  // how a stretch begins in that step
  std::vector<Entry> left;   // the step before was the last of a stretch, left in favour of such an entry
  double gained_min = 0;
  double value = 0;  // less prices; at least 0: to do nothing
};

[[nodiscard]] JobUse best_use(const ScheduleProblem& problem, int job, const JobPrices& prices);

}  // namespace ng::plan
