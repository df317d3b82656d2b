// The order of crowded nights: 8 targets through 4 filters over 10 hours. What is found, what no order can exceed, and
// beside both what a person does who takes in every step whatever gains most there. Fails above 1 % or 2 s.
#include <fmt/format.h>

#include <chrono>
#include <cstdlib>

#include "plan/test_night.h"

int main(int argc, char** argv) {
  using namespace ng;
  const int nights = argc > 1 ? std::atoi(argv[1]) : 10;
  fmt::print("{:>5} {:>9} {:>9} {:>8} {:>9} {:>8} {:>8}\n", "night", "found", "bound", "apart", "greedy", "greedy",
             "s");
  int failures = 0;
  for (int seed = 1; seed <= nights; ++seed) {
    const plan::ScheduleProblem p = plan::invented_night(8, 4, 43, static_cast<std::uint64_t>(seed));
    const auto begun = std::chrono::steady_clock::now();
    const auto s = plan::make_schedule(p, {});
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
    if (!s.ok()) return 1;
    const double greedy = plan::greedy_schedule(p).value;
    const double apart = 100 * (1 - s->value / s->bound);
    fmt::print("{:>5} {:>9.4f} {:>9.4f} {:>6.2f} % {:>9.4f} {:>6.1f} % {:>8.2f}\n", seed, s->value, s->bound, apart,
               greedy, 100 * (greedy / s->bound - 1), seconds);
    if (!(apart <= 1 && apart >= 0 && seconds <= 2)) ++failures;
  }
  return failures == 0 ? 0 : 1;
}
