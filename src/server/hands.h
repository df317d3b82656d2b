// server/hands.h - the threads that answer. The library reads some headers by recursion, megabytes of stack deep; what
// a thread's stack took is given back after each connection, so that a hundred threads do not keep it for ever.
#pragma once

#include <httplib.h>

#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>
#include <vector>

namespace ng::server {

class Hands final : public httplib::TaskQueue {
 public:
  explicit Hands(int count);
  ~Hands() override;
  Hands(const Hands&) = delete;
  Hands& operator=(const Hands&) = delete;

  void enqueue(std::function<void()> task) override;
  // Waits until all that was given is done.
  void shutdown() override;

 private:
  void work();

  std::mutex mutex_;
  std::condition_variable given_;
  std::deque<std::function<void()>> tasks_;
  bool stopping_ = false;
  std::vector<std::thread> threads_;
};

}  // namespace ng::server
