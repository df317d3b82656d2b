// app/stage_clock.h - how long each stage of a job took, by the wall and by the processors.
#pragma once

#include <chrono>
#include <ctime>
#include <string>
#include <utility>
#include <vector>

#include "app/reduce.h"

namespace ng::app {

class StageClock {
 public:
  // The stage before ends.
  void begin(std::string name) {
    end();
    stages_.push_back({std::move(name), 0, 0});
  }
  // All stages so far; the last one ends.
  std::vector<ReduceStage> take() {
    end();
    return std::move(stages_);
  }

 private:
  using Clock = std::chrono::steady_clock;

  void end() {
    const auto now = Clock::now();
    const std::clock_t processor = std::clock();
    if (!stages_.empty()) {
      stages_.back().seconds = std::chrono::duration<double>(now - since_).count();
      stages_.back().processor_seconds = static_cast<double>(processor - processor_since_) / CLOCKS_PER_SEC;
    }
    since_ = now;
    processor_since_ = processor;
  }

  std::vector<ReduceStage> stages_;
  Clock::time_point since_;
  std::clock_t processor_since_ = 0;
};

}  // namespace ng::app
