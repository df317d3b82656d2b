#include "app/frame_memories.h"

#include <utility>

namespace ng::app {

Image<float> FrameMemories::take() {
  std::unique_lock lock(mutex_);
  returned_.wait(lock, [&] { return !free_.empty(); });
  Image<float> memory = std::move(free_.back());
  free_.pop_back();
  return memory;
}

void FrameMemories::give_back(Image<float> memory) {
  {
    const std::lock_guard lock(mutex_);
    free_.push_back(std::move(memory));
  }
  returned_.notify_one();
}

}  // namespace ng::app
