#include "base/parallel.h"

#include <condition_variable>
#include <mutex>
#include <optional>
#include <thread>
#include <vector>

namespace ng {

struct ThreadPool::State {
  std::mutex mutex;
  std::condition_variable work;
  std::condition_variable done;
  std::vector<std::thread> workers;
  std::atomic_flag busy = ATOMIC_FLAG_INIT;

  // Guarded by mutex, except `next`, which the running items share.
  const std::function<void(int)>* task = nullptr;
  int count = 0;
  std::atomic<int> next{0};
  int active = 0;
  unsigned long generation = 0;
  bool stop = false;

  void work_off(const std::function<void(int)>& current, int end) {
    for (int i = next.fetch_add(1); i < end; i = next.fetch_add(1)) current(i);
  }

  void worker() {
    unsigned long seen = 0;
    std::unique_lock lock(mutex);
    while (true) {
      work.wait(lock, [&] { return stop || (task != nullptr && generation != seen); });
      if (stop) return;
      seen = generation;
      const auto* current = task;
      const int end = count;
      ++active;
      lock.unlock();
      work_off(*current, end);
      lock.lock();
      if (--active == 0) done.notify_all();
    }
  }
};

ThreadPool::ThreadPool(int threads) : state_(std::make_unique<State>()) {
  if (threads <= 0) threads = std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
  for (int i = 1; i < threads; ++i) state_->workers.emplace_back([this] { state_->worker(); });
}

ThreadPool::~ThreadPool() {
  {
    const std::lock_guard lock(state_->mutex);
    state_->stop = true;
  }
  state_->work.notify_all();
  for (auto& worker : state_->workers) worker.join();
}

int ThreadPool::threads() const {
  return static_cast<int>(state_->workers.size()) + 1;
}

void ThreadPool::run(int count, const std::function<void(int)>& task) {
  State& s = *state_;
  if (count <= 0) return;
  if (s.workers.empty() || count == 1 || s.busy.test_and_set()) {  // alone, or called from inside a task
    for (int i = 0; i < count; ++i) task(i);
    return;
  }
  {
    const std::lock_guard lock(s.mutex);
    s.task = &task;
    s.count = count;
    s.next.store(0);
    ++s.generation;
  }
  s.work.notify_all();
  s.work_off(task, count);
  {
    std::unique_lock lock(s.mutex);
    s.done.wait(lock, [&] { return s.active == 0; });
    s.task = nullptr;
  }
  s.busy.clear();
}

namespace detail {

Result<void> parallel_for(const Context& ctx, int count, const std::function<Result<void>(int)>& task) {
  std::mutex mutex;
  std::optional<Error> failure;
  int failed_index = count;
  std::atomic<bool> stop{false};
  const auto item = [&](int i) {
    if (stop.load(std::memory_order_relaxed)) return;
    Result<void> result = ctx.cancelled() ? Error(Code::kCancelled, "stopped on request") : task(i);
    if (result.ok()) return;
    const std::lock_guard lock(mutex);
    stop = true;
    if (i < failed_index) {
      failed_index = i;
      failure = std::move(result).error();
    }
  };
  if (ctx.pool != nullptr) {
    ctx.pool->run(count, item);
  } else {
    for (int i = 0; i < count && !stop; ++i) item(i);
  }
  if (failure) return *std::move(failure);
  return {};
}

}  // namespace detail
}  // namespace ng
