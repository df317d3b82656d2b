#include "server/hands.h"

#include <pthread.h>
#include <sys/mman.h>

#include <cstdint>

namespace ng::server {
namespace {

// All of this thread's stack but the part in use, and some below it.
void give_back_stack() {
  constexpr std::uintptr_t kKept = 256 << 10, kPage = 4096;
  pthread_attr_t attributes;
  if (pthread_getattr_np(pthread_self(), &attributes) != 0) return;
  void* lowest = nullptr;
  std::size_t size = 0;
  const bool known = pthread_attr_getstack(&attributes, &lowest, &size) == 0;
  pthread_attr_destroy(&attributes);
  const auto here = reinterpret_cast<std::uintptr_t>(__builtin_frame_address(0));
  const auto begin = reinterpret_cast<std::uintptr_t>(lowest);
  if (!known || here < begin + kKept) return;
  madvise(lowest, (here - kKept - begin) / kPage * kPage, MADV_DONTNEED);
}

}  // namespace

Hands::Hands(int count) {
  for (int i = 0; i < count; ++i) threads_.emplace_back([this] { work(); });
}

Hands::~Hands() {
  shutdown();
}

void Hands::enqueue(std::function<void()> task) {
  {
    const std::lock_guard lock(mutex_);
    tasks_.push_back(std::move(task));
  }
  given_.notify_one();
}

void Hands::shutdown() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
  }
  given_.notify_all();
  for (std::thread& t : threads_)
    if (t.joinable()) t.join();
}

void Hands::work() {
  while (true) {
    std::function<void()> task;
    {
      std::unique_lock lock(mutex_);
      given_.wait(lock, [&] { return stopping_ || !tasks_.empty(); });
      if (tasks_.empty()) return;
      task = std::move(tasks_.front());
      tasks_.pop_front();
    }
    task();
    task = nullptr;
    give_back_stack();
  }
}

}  // namespace ng::server
