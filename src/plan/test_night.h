// plan/test_night.h - invented nights to schedule, for tests and benchmarks.
#pragma once

#include <algorithm>

#include "math/random.h"
#include "plan/schedule.h"

namespace ng::plan {

// Targets that rise and set one after the other, filters that suffer more or less near the end of the night.
inline ScheduleProblem invented_night(int targets, int filters, int steps, std::uint64_t seed) {
  math::Random random(seed, 1);
  ScheduleProblem p;
  p.step_min = 14;
  for (int i = 0; i < targets; ++i) {
    const double peak = random.uniform() * steps, width = steps * (0.25 + 0.35 * random.uniform());
    p.flip_step.push_back(static_cast<int>(peak));
    for (int f = 0; f < filters; ++f) {
      ScheduleJob job;
      job.target = i;
      job.filter = f;
      job.needed_min = 40 + 120 * random.uniform();
      job.efficiency = 0.9;
      for (int t = 0; t < steps; ++t) {
        const double u = (t - peak) / width;
        job.worth.push_back(std::max(0.0, 1 - u * u) * (f == 0 && 2 * t > steps ? 0.4 : 1));
      }
      p.jobs.push_back(job);
    }
  }
  return p;
}

}  // namespace ng::plan
