#include "plan/schedule_job.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"
#include "plan/schedule_bound.h"
#include "plan/test_night.h"

namespace ng::plan {
namespace {

constexpr int kSteps = 7;

JobPrices random_prices(std::uint64_t seed) {
  math::Random random(seed, 2);
  JobPrices p;
  for (auto* row : {&p.step, &p.from_target, &p.from_filter, &p.to_target, &p.to_filter})
    for (int t = 0; t < kSteps; ++t) row->push_back((row == &p.step ? 0.25 : 0.06) * random.uniform());
  return p;
}

// Every way to use the night, one by one: each step is free, goes on, or begins a stretch in one of three ways.
double best_by_trying_all(const ScheduleProblem& p, int job, const JobPrices& prices) {
  const ScheduleJob& j = p.jobs[job];
  double best = 0;
  for (int code = 0; code < 78125; ++code) {  // 5^7
    double gained = 0, value = 0;
    bool inside = false, possible = true;
    for (int t = 0, rest = code; t < kSteps; ++t, rest /= 5) {
      const int way = rest % 5;
      const bool goes_on = way == 1;
      if (inside && !goes_on) value += std::max(prices.to_target[t], prices.to_filter[t]);
      possible = possible && (way == 0 || j.worth[t] > 0) && (inside || !goes_on);
      inside = way != 0;
      if (way == 0) continue;
      const double flip = p.flip_step[j.target] == t ? p.flip_min : 0;
      const double pause[] = {0, flip, p.centring_min + p.filter_min, p.filter_min + flip, p.centring_min};
      const double price[] = {0, 0, 0, prices.from_target[t], prices.from_filter[t]};
      gained += (p.step_min - pause[way]) * j.efficiency * j.worth[t];
      value -= prices.step[t] + price[way];
    }
    if (possible) best = std::max(best, value + job_value(j, gained));
  }
  return best;
}

TEST(ScheduleJob, BestUseAgainstAllUses) {
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    const ScheduleProblem p = invented_night(2, 2, kSteps, seed);
    for (int job = 0; job < 4; ++job) {
      const JobPrices prices = random_prices(10 * seed + job);
      const JobUse use = best_use(p, job, prices);
      EXPECT_NEAR(use.value, best_by_trying_all(p, job, prices), 1e-11) << seed << ' ' << job;
      double value = job_value(p.jobs[job], use.gained_min);
      for (int t = 0; t < kSteps; ++t) {
        if (use.taken[t]) value -= prices.step[t];
        if (use.entry[t] == Entry::kFromTarget) value -= prices.from_target[t];
        if (use.entry[t] == Entry::kFromFilter) value -= prices.from_filter[t];
        if (use.left[t] == Entry::kFromTarget) value += prices.to_target[t];
        if (use.left[t] == Entry::kFromFilter) value += prices.to_filter[t];
      }
      EXPECT_NEAR(use.value, value, 1e-11) << seed << ' ' << job;
    }
  }
}

// A bound is one at every moment of its search: also when it is stopped at once, or asked to be sharper than it can.
TEST(ScheduleBound, NeverBelowWhatIsPossible) {
  for (std::uint64_t seed = 1; seed <= 4; ++seed) {
    const ScheduleProblem p = invented_night(3, 2, 12, seed);
    const auto s = make_schedule(p, {});
    ASSERT_TRUE(s.ok());
    for (const double close : {0.5, 0.05, 0.0}) {
      const auto bound = schedule_bound(p, s->value, close, {});
      ASSERT_TRUE(bound.ok());
      EXPECT_GE(*bound, s->value) << seed << ' ' << close;
    }
  }
}

}  // namespace
}  // namespace ng::plan
