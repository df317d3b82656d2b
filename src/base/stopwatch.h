// base/stopwatch.h - how long something took, in seconds; the clock on the wall may go as it likes.
#pragma once

#include <chrono>

namespace ng {

class Stopwatch {
 public:
  [[nodiscard]] double seconds() const { return std::chrono::duration<double>(Clock::now() - begun_).count(); }

 private:
  using Clock = std::chrono::steady_clock;
  Clock::time_point begun_ = Clock::now();
};

}  // namespace ng
