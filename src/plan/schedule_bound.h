// plan/schedule_bound.h - what no order of a night can exceed.
//
// Lagrangian decomposition (derived). Every order is one use of the night by each job (plan/schedule_job.h) such that
//   no step is taken twice;
//   who takes over from a job of the same target, or filter, finds one that leaves in favour of that, and not itself.
// With prices >= 0 on these conditions each job is free, and the sum of the best uses plus the prices of the steps is
// an upper bound whatever the prices. Each job keeps its own curved value: what fails to be an order is only a mean of
// uses, whose value is lower than that of the mean. Prices by subgradients (Polyak 1969) with the directions of former
// rounds mixed in (Camerini, Fratta & Maffioli 1975, Math. Programming Study 3, 26; both from memory).
#pragma once

#include "base/context.h"
#include "base/result.h"
#include "plan/schedule.h"

namespace ng::plan {

// Stops when the bound is within `close` (a share) of `value`, which some order has, or does not fall any more.
// Errors: kCancelled.
[[nodiscard]] Result<double> schedule_bound(const ScheduleProblem& problem, double value, double close,
                                            const Context& ctx);

}  // namespace ng::plan
