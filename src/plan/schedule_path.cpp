#include "plan/schedule_path.h"

#include <algorithm>

namespace ng::plan {

double best_path(const ScheduleProblem& p, const std::vector<double>& prices, std::vector<int>& sequence) {
  const int jobs = static_cast<int>(p.jobs.size()), steps = p.steps();
  const int states = jobs + 1;  // the last one: nothing
  std::vector<double> worth(states, -1e300), next(states);
  std::vector<std::vector<int>> from(steps, std::vector<int>(states, jobs));
  worth[jobs] = 0;
  const auto job_of = [jobs](int state) { return state == jobs ? kNoJob : state; };
  for (int t = 0; t < steps; ++t) {
    for (int s = 0; s < states; ++s) {
      next[s] = -1e300;
      if (s < jobs && p.jobs[s].worth[t] <= 0) continue;
      for (int before = 0; before < states; ++before) {
        if (worth[before] < -1e299) continue;
        const double here = s == jobs ? 0 : prices[s] * p.gain_min(job_of(before), s, t);
        if (worth[before] + here <= next[s]) continue;
        next[s] = worth[before] + here;
        from[t][s] = before;
      }
    }
    std::swap(worth, next);
  }
  int state = static_cast<int>(std::max_element(worth.begin(), worth.end()) - worth.begin());
  const double best = worth[state];
  sequence.assign(steps, kNoJob);
  for (int t = steps - 1; t >= 0; --t) {
    sequence[t] = job_of(state);
    state = from[t][state];
  }
  return best;
}

}  // namespace ng::plan
