// base/context.h - what long work is given by its caller: hands, a way to be stopped, a way to report, a memory budget.
//
// Passed as an argument, never ambient. A default Context runs in the calling thread, cannot be cancelled and is
// silent: right for tests. The answer of every function has the same bits for any pool, and for none.
#pragma once

#include <atomic>
#include <cstddef>
#include <cstdint>
#include <string_view>

namespace ng {

class ThreadPool;

// Set from anywhere (a signal handler included); looked at by long work between units of a few milliseconds.
class CancelToken {
 public:
  void cancel() noexcept { cancelled_.store(true, std::memory_order_relaxed); }
  [[nodiscard]] bool cancelled() const noexcept { return cancelled_.load(std::memory_order_relaxed); }

 private:
  std::atomic<bool> cancelled_{false};
};

// Receives progress. Calls may come from any thread of the pool; implementations lock for themselves.
class Progress {
 public:
  virtual ~Progress() = default;
  // A new stage of `total` units begins ("measuring", 16). Units are whatever the stage counts: frames, rows, bytes.
  virtual void begin(std::string_view stage, std::int64_t total) = 0;
  virtual void advance(std::int64_t units) = 0;
};

struct Context {
  ThreadPool* pool = nullptr;                              // null: run in the calling thread
  const CancelToken* cancel = nullptr;                     // null: cannot be cancelled
  Progress* progress = nullptr;                            // null: silent
  std::size_t memory_budget_bytes = std::size_t{1} << 30;  // what streaming stages may hold at once

  [[nodiscard]] bool cancelled() const { return cancel != nullptr && cancel->cancelled(); }
  void begin(std::string_view stage, std::int64_t total) const {
    if (progress != nullptr) progress->begin(stage, total);
  }
  void advance(std::int64_t units = 1) const {
    if (progress != nullptr) progress->advance(units);
  }
  // The same work without the pool: for code that already runs inside parallel_for().
  [[nodiscard]] Context serial() const {
    Context copy = *this;
    copy.pool = nullptr;
    copy.progress = nullptr;
    return copy;
  }
};

}  // namespace ng
