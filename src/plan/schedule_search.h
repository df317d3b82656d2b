// plan/schedule_search.h - a good order of a night, by simulated annealing (Kirkpatrick, Gelatt & Vecchi 1983, Science
// 220, 671).
//
// A stretch of steps goes to another job, two stretches change places, the end of a stretch moves; what loses is taken
// with falling probability. Only what a change touches is reckoned anew. Seeded: the same seed gives the same order.
#pragma once

#include <cstdint>

#include "base/context.h"
#include "base/result.h"
#include "plan/schedule.h"

namespace ng::plan {

// Begins with `schedule`; the best that was met, at least as good. Errors: kCancelled.
[[nodiscard]] Result<Schedule> improve_schedule(const ScheduleProblem& problem, const Schedule& schedule,
                                                std::uint64_t seed, const Context& ctx);

}  // namespace ng::plan
