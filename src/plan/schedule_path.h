// plan/schedule_path.h - the sequence of jobs that is worth most when every equivalent minute has a price.
#pragma once

#include <vector>

#include "plan/schedule.h"

namespace ng::plan {

// Exact, by dynamic programming over (step, job): steps x jobs^2. Returns the worth; `sequence` gets the job of each
// step.
double best_path(const ScheduleProblem& problem, const std::vector<double>& prices, std::vector<int>& sequence);

}  // namespace ng::plan
