#include "server/jobs.h"

#include <algorithm>

namespace ng::server {
namespace {

using Clock = std::chrono::steady_clock;

constexpr std::size_t kMostWaiting = 20;
constexpr std::size_t kMostKept = 100;

}  // namespace

struct JobBoard::Job {
  JobView view;
  Work work;
  CancelToken cancel;
  std::uint64_t version = 1;
  Clock::time_point begun{};
};

// Progress of a job; tells the watchers ten times a second at most.
class JobBoard::Reporter : public Progress {
 public:
  Reporter(JobBoard& board, Job& job) : board_(board), job_(job) {}

  void begin(std::string_view stage, std::int64_t total) override {
    const std::lock_guard lock(mutex_);
    done_ = 0;
    told_ = Clock::now();
    board_.change(job_, [&](JobView& v) {
      v.stage = stage;
      v.done = 0;
      v.total = total;
    });
  }
  void advance(std::int64_t units) override {
    const std::lock_guard lock(mutex_);
    done_ += units;
    const auto now = Clock::now();
    if (now - told_ < std::chrono::milliseconds(100)) return;
    told_ = now;
    board_.change(job_, [&](JobView& v) { v.done = done_; });
  }

 private:
  JobBoard& board_;
  Job& job_;
  std::mutex mutex_;
  std::int64_t done_ = 0;
  Clock::time_point told_{};
};

JobBoard::JobBoard(int threads) : pool_(threads), worker_([this] { work_off(); }) {}

JobBoard::~JobBoard() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    for (auto& [id, job] : jobs_) job->cancel.cancel();
  }
  changed_.notify_all();
  worker_.join();
}

Result<int> JobBoard::start(const std::string& service, app::Json request, Work work) {
  const std::lock_guard lock(mutex_);
  const auto waiting =
      std::count_if(jobs_.begin(), jobs_.end(), [](const auto& j) { return j.second->view.state == "waiting"; });
  if (static_cast<std::size_t>(waiting) >= kMostWaiting)
    return Error(Code::kTooFew, "20 jobs are waiting already: let some end, or cancel some");
  // The oldest that have ended are forgotten.
  for (auto it = jobs_.begin(); it != jobs_.end() && jobs_.size() >= kMostKept;)
    it = it->second->view.ended() ? jobs_.erase(it) : std::next(it);
  const int id = next_++;
  auto job = std::make_unique<Job>();
  job->view.id = id;
  job->view.service = service;
  job->view.state = "waiting";
  job->view.request = std::move(request);
  job->work = std::move(work);
  jobs_[id] = std::move(job);
  changed_.notify_all();
  return id;
}

void JobBoard::work_off() {
  while (true) {
    Job* job = nullptr;
    {
      std::unique_lock lock(mutex_);
      const auto next = [&] {
        return std::find_if(jobs_.begin(), jobs_.end(),
                            [](const auto& j) { return j.second->view.state == "waiting"; });
      };
      changed_.wait(lock, [&] { return stopping_ || next() != jobs_.end(); });
      if (stopping_) return;
      job = next()->second.get();
      job->begun = Clock::now();
      job->view.state = "running";
      ++job->version;
    }
    changed_.notify_all();
    Reporter reporter(*this, *job);
    Context ctx;
    ctx.pool = &pool_;
    ctx.cancel = &job->cancel;
    ctx.progress = &reporter;
    auto result = job->work(job->view.request, ctx);
    change(*job, [&](JobView& v) {
      if (result.ok()) {
        v.state = "done";
        v.reply = *std::move(result);
        return;
      }
      v.state = result.error().code() == Code::kCancelled ? "cancelled" : "failed";
      v.error = result.error().message();
    });
  }
}

void JobBoard::change(Job& job, const std::function<void(JobView&)>& how) {
  {
    const std::lock_guard lock(mutex_);
    how(job.view);
    job.view.seconds = std::chrono::duration<double>(Clock::now() - job.begun).count();
    ++job.version;
  }
  changed_.notify_all();
}

std::vector<JobView> JobBoard::list() const {
  const std::lock_guard lock(mutex_);
  std::vector<JobView> views;
  for (auto it = jobs_.rbegin(); it != jobs_.rend(); ++it) {
    JobView v = it->second->view;
    v.request = nullptr;
    v.reply = nullptr;
    views.push_back(std::move(v));
  }
  return views;
}

std::optional<JobView> JobBoard::view(int id) const {
  const std::lock_guard lock(mutex_);
  const auto found = jobs_.find(id);
  if (found == jobs_.end()) return std::nullopt;
  return found->second->view;
}

bool JobBoard::cancel(int id) {
  {
    const std::lock_guard lock(mutex_);
    const auto found = jobs_.find(id);
    if (found == jobs_.end()) return false;
    Job& job = *found->second;
    job.cancel.cancel();
    if (job.view.state == "waiting") {
      job.view.state = "cancelled";
      ++job.version;
    }
  }
  changed_.notify_all();
  return true;
}

std::optional<JobBoard::Change> JobBoard::view_after(int id, std::uint64_t seen, std::chrono::milliseconds wait) const {
  std::unique_lock lock(mutex_);
  const auto news = [&] {
    const auto found = jobs_.find(id);
    return stopping_ || found == jobs_.end() || found->second->version != seen;
  };
  changed_.wait_for(lock, wait, news);
  const auto found = jobs_.find(id);
  if (found == jobs_.end() || found->second->version == seen) return std::nullopt;
  return Change{found->second->version, found->second->view};
}

}  // namespace ng::server
