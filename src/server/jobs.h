// server/jobs.h - long work that outlives the request that began it: one job after the other, watched by anyone.
#pragma once

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/parallel.h"
#include "base/result.h"

namespace ng::server {

struct JobView {
  int id = 0;
  std::string service;
  std::string state;  // "waiting", "running", "done", "failed", "cancelled"
  std::string stage;  // of the work: "measuring lights"
  std::int64_t done = 0, total = 0;
  double seconds = 0;  // since it began
  std::string error;
  app::Json request, reply;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("id", self.id);
    visit("service", self.service);
    visit("state", self.state);
    visit("stage", self.stage);
    visit("done", self.done);
    visit("total", self.total);
    visit("seconds", self.seconds);
    visit("error", self.error);
    visit("request", self.request);
    visit("reply", self.reply);
  }
  [[nodiscard]] bool ended() const { return state == "done" || state == "failed" || state == "cancelled"; }
};

class JobBoard {
 public:
  using Work = std::function<Result<app::Json>(const app::Json& request, const Context& ctx)>;

  // `threads` as for the pool: 0 = one per processor.
  explicit JobBoard(int threads);
  // Stops what runs and waits for it.
  ~JobBoard();
  JobBoard(const JobBoard&) = delete;
  JobBoard& operator=(const JobBoard&) = delete;

  // Errors: kTooFew room: kMostWaiting jobs wait already.
  [[nodiscard]] Result<int> start(const std::string& service, app::Json request, Work work);
  [[nodiscard]] std::vector<JobView> list() const;  // without requests and replies; the newest first
  [[nodiscard]] std::optional<JobView> view(int id) const;
  // False where there is no such job. A job that has ended stays as it is.
  bool cancel(int id);

  // Waits until the job differs from `seen` (a number that view_after() gave; 0 at first), or the time is over: nothing
  // then. Also nothing where there is no such job.
  struct Change {
    std::uint64_t version = 0;
    JobView view;
  };
  [[nodiscard]] std::optional<Change> view_after(int id, std::uint64_t seen, std::chrono::milliseconds wait) const;

 private:
  struct Job;
  class Reporter;

  void work_off();
  void change(Job& job, const std::function<void(JobView&)>& how);

  ThreadPool pool_;
  mutable std::mutex mutex_;
  mutable std::condition_variable changed_;
  std::map<int, std::unique_ptr<Job>> jobs_;
  int next_ = 1;
  bool stopping_ = false;
  std::thread worker_;
};

}  // namespace ng::server
