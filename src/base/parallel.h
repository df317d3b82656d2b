// base/parallel.h - the thread pool and the one loop that uses it.
//
// parallel_for(ctx, count, task) calls task(i) once for every 0 <= i < count, in no fixed order, and returns when all
// are done. The task returns void or Result<void>. The first failure stops further items from starting; of several
// failures the one with the smallest index is returned, so that the message does not depend on timing. Cancellation is
// looked at before each item. Items must not depend on each other; sums over items are made by the caller, in index
// order: that is how the same bits come out for any number of threads.
//
// A call from inside a task runs in the calling thread: no nesting, no deadlock.
#pragma once

#include <functional>
#include <memory>
#include <type_traits>

#include "base/context.h"
#include "base/result.h"

namespace ng {

class ThreadPool {
 public:
  // `threads` counts the calling thread too: 1 makes no thread at all. 0 asks for one per processor.
  explicit ThreadPool(int threads = 0);
  ~ThreadPool();
  ThreadPool(const ThreadPool&) = delete;
  ThreadPool& operator=(const ThreadPool&) = delete;

  [[nodiscard]] int threads() const;
  void run(int count, const std::function<void(int)>& task);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

namespace detail {
[[nodiscard]] Result<void> parallel_for(const Context& ctx, int count, const std::function<Result<void>(int)>& task);
}

template <typename Task>
[[nodiscard]] Result<void> parallel_for(const Context& ctx, int count, const Task& task) {
  if constexpr (std::is_void_v<std::invoke_result_t<const Task&, int>>) {
    return detail::parallel_for(ctx, count, [&task](int i) -> Result<void> {
      task(i);
      return {};
    });
  } else {
    return detail::parallel_for(ctx, count, task);
  }
}

}  // namespace ng
