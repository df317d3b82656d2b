// app/frame_memories.h - memory for a fixed number of frames, which many threads share; who finds none free waits.
#pragma once

#include <condition_variable>
#include <mutex>
#include <vector>

#include "base/image.h"

namespace ng::app {

class FrameMemories {
 public:
  explicit FrameMemories(std::size_t count) : free_(count) {}  // at least 1

  // Who takes one gives it back, or the others wait for ever.
  [[nodiscard]] Image<float> take();
  void give_back(Image<float> memory);

 private:
  std::mutex mutex_;
  std::condition_variable returned_;
  std::vector<Image<float>> free_;
};

}  // namespace ng::app
