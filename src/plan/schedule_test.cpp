#include "plan/schedule.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"
#include "plan/schedule_path.h"

namespace ng::plan {
namespace {

using testing::HasSubstr;

// Targets that rise and set one after the other, filters that suffer more or less near the end of the night.
ScheduleProblem night(int targets, int filters, int steps, std::uint64_t seed) {
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

// All sequences of jobs, one by one.
double best_by_trying_all(const ScheduleProblem& p) {
  const int choices = static_cast<int>(p.jobs.size()) + 1;
  Schedule s;
  s.job.assign(p.steps(), kNoJob);
  double best = 0;
  for (;;) {
    evaluate_schedule(p, s);
    best = std::max(best, s.value);
    int t = 0;
    while (t < p.steps() && ++s.job[t] == choices - 1) s.job[t++] = kNoJob;
    if (t == p.steps()) return best;
  }
}

TEST(Schedule, SmallNightsAgainstAllSequences) {
  for (std::uint64_t seed = 1; seed <= 6; ++seed) {
    const ScheduleProblem p = night(2, 2, 7, seed);
    const auto s = make_schedule(p, {});
    ASSERT_TRUE(s.ok());
    const double best = best_by_trying_all(p);
    EXPECT_LE(s->value, best * (1 + 1e-12)) << seed;
    EXPECT_GE(s->value, best * 0.99) << seed;         // the limit: 1 % of the best
    EXPECT_GE(s->bound, best * (1 - 1e-12)) << seed;  // a bound is never below what can be done
  }
}

// 8 targets through 4 filters over 10 hours: never above the bound, and better than taking whatever gains most at once.
// How far from the bound is no promise yet: the reply tells it each time (some 8 % in nights as crowded as these).
TEST(Schedule, WholeNights) {
  for (std::uint64_t seed = 1; seed <= 3; ++seed) {
    const ScheduleProblem p = night(8, 4, 43, seed);
    const auto s = make_schedule(p, {});
    ASSERT_TRUE(s.ok());
    EXPECT_LE(s->value, s->bound) << seed;
    EXPECT_GT(s->value, greedy_schedule(p).value) << seed;
    Schedule again = *s;
    evaluate_schedule(p, again);
    EXPECT_EQ(again.value, s->value);
  }
}

TEST(Schedule, PathIsExactForAnyPrices) {
  const ScheduleProblem p = night(2, 1, 8, 9);
  const std::vector<double> prices{0.7, 1.1};
  std::vector<int> sequence;
  const double worth = best_path(p, prices, sequence);
  double best = 0;
  for (int code = 0; code < 6561; ++code) {  // 3^8
    int rest = code, before = kNoJob;
    double sum = 0;
    for (int t = 0; t < 8; ++t, rest /= 3) {
      const int j = rest % 3 - 1;
      const bool taken = j != kNoJob && p.jobs[j].worth[t] > 0;
      if (taken) sum += prices[j] * p.gain_min(before, j, t);
      before = taken ? j : kNoJob;
    }
    best = std::max(best, sum);
  }
  EXPECT_NEAR(worth, best, 1e-12);
}

// By hand: steps of 10 minutes, centring 1, filter 2, flip 3.
TEST(Schedule, Pauses) {
  ScheduleProblem p;
  p.centring_min = 1;
  p.filter_min = 2;
  p.flip_min = 3;
  p.flip_step = {2, -1};
  p.jobs = {{0, 0, 60, 1, 1, {1, 1, 1}}, {0, 1, 60, 1, 1, {1, 1, 1}}, {1, 0, 60, 1, 1, {1, 1, 1}}};
  EXPECT_EQ(p.pause_min(kNoJob, 0, 0), 3);
  EXPECT_EQ(p.pause_min(0, 0, 1), 0);
  EXPECT_EQ(p.pause_min(0, 0, 2), 3);  // its flip
  EXPECT_EQ(p.pause_min(2, 0, 2), 1);  // newly come after the flip: nothing to flip
  EXPECT_EQ(p.pause_min(0, 1, 1), 2);
  EXPECT_EQ(p.pause_min(2, 1, 1), 3);
  EXPECT_EQ(p.gain_min(0, 0, 2), 7);
}

TEST(Schedule, NothingToDoAndNonsense) {
  ScheduleProblem p = night(1, 1, 5, 3);
  p.jobs[0].worth.assign(5, 0);
  const auto s = make_schedule(p, {});
  ASSERT_TRUE(s.ok());
  EXPECT_EQ(s->value, 0);
  EXPECT_EQ(s->job, std::vector<int>(5, kNoJob));
  p.centring_min = 15;
  EXPECT_THAT(make_schedule(p, {}).error().message(), HasSubstr("take longer steps"));
  EXPECT_THAT(make_schedule(ScheduleProblem{}, {}).error().message(), HasSubstr("name a target"));
}

}  // namespace
}  // namespace ng::plan
