// app/schedule_problem.h - wishes, site, rig and sky become a plan::ScheduleProblem.
#pragma once

#include <string>
#include <vector>

#include "app/schedule.h"
#include "app/site_night.h"
#include "app/workspace.h"
#include "plan/night_steps.h"
#include "plan/schedule.h"

namespace ng::app {

struct ScheduleTarget {
  std::string name;
  sky::Direction of_date;
  Instant flip;
  double highest_deg = -90;  // in the night
};

struct ScheduleJobFacts {
  std::string filter;
  double sub_s = 0, cycle_s = 0;  // the latter with download and dither
};

struct ScheduleWork {
  Workspace workspace;
  plan::NightSteps night;
  std::vector<ScheduleTarget> targets;  // panels one by one
  plan::ScheduleProblem problem;
  std::vector<ScheduleJobFacts> facts;  // of each job of the problem
  std::vector<std::string> notes;

  [[nodiscard]] const ScheduleTarget& target_of(int job) const { return targets[problem.jobs[job].target]; }
};

// Errors: as schedule().
[[nodiscard]] Result<ScheduleWork> schedule_problem(const ScheduleRequest& request);

}  // namespace ng::app
