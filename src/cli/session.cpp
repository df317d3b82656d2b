#include "cli/session.h"

#include <fmt/format.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <cstdio>
#include <mutex>

namespace ng::cli {
namespace {

// The one variable that a signal handler may touch. A second Ctrl-C ends the program at once: files are written under
// temporary names and renamed when whole, so nothing half-made is left under a real name.
CancelToken g_cancel;  // NOLINT(cppcoreguidelines-avoid-non-const-global-variables): signals reach nothing else

void on_signal(int signal) {
  if (g_cancel.cancelled()) std::_Exit(128 + signal);
  g_cancel.cancel();
}

std::string duration_text(double seconds) {
  const long s = std::lround(seconds);
  if (s < 60) return fmt::format("{} s", s);
  return fmt::format("{} min {:02d} s", s / 60, s % 60);
}

}  // namespace

// One line on the terminal: stage, share done, time left. Drawn ten times a second at most.
class Session::Bar : public Progress {
 public:
  void begin(std::string_view stage, std::int64_t total) override {
    const std::lock_guard lock(mutex_);
    stage_ = stage;
    total_ = total;
    done_ = 0;
    begun_ = Clock::now();
    draw(true);
  }
  void advance(std::int64_t units) override {
    const std::lock_guard lock(mutex_);
    done_ += units;
    draw(false);
  }
  void clear() {
    const std::lock_guard lock(mutex_);
    if (drawn_) std::fputs("\r\033[K", stderr);
    drawn_ = false;
  }

 private:
  using Clock = std::chrono::steady_clock;

  void draw(bool always) {
    const auto now = Clock::now();
    if (!always && now - last_ < std::chrono::milliseconds(100)) return;
    last_ = now;
    drawn_ = true;
    const double share = total_ > 0 ? std::min(1.0, static_cast<double>(done_) / static_cast<double>(total_)) : 0;
    const double passed = std::chrono::duration<double>(now - begun_).count();
    constexpr int kWidth = 28;
    const int full = static_cast<int>(share * kWidth);
    std::string line =
        fmt::format("\r\033[K{:<24} {}{} {:3.0f} %", stage_, std::string(static_cast<std::size_t>(full), '='),
                    std::string(static_cast<std::size_t>(kWidth - full), '.'), 100 * share);
    if (share > 0.02 && passed > 1) line += fmt::format("  {} left", duration_text(passed * (1 - share) / share));
    std::fputs(line.c_str(), stderr);
    std::fflush(stderr);
  }

  std::mutex mutex_;
  std::string stage_;
  std::int64_t total_ = 0;
  std::int64_t done_ = 0;
  Clock::time_point begun_{};
  Clock::time_point last_{};
  bool drawn_ = false;
};

Session::Session() = default;
Session::~Session() = default;

CLI::App* Session::add_command(CLI::App& root, const std::string& name, const std::string& summary,
                               const std::string& footer, std::function<Result<void>()> run) {
  CLI::App* command = root.add_subcommand(name, summary);
  command->footer(footer);
  command
      ->add_option("--threads", threads_,
                   "Number of threads; 0 = one per processor. The answer has the same bits for any")
      ->check(CLI::Range(0, 1024))
      ->capture_default_str();
  command->add_option("--memory", memory_gib_, "Memory that streaming may hold at once, in GiB")
      ->check(CLI::Range(0.1, 1024.0))
      ->capture_default_str();
  command->add_flag("--json", json_, "Reply with one JSON document on standard output");
  command->add_flag("--quiet", quiet_, "No progress and no notes on standard error");
  command->callback([this, run = std::move(run)] {
    start();
    finish(run());
  });
  return command;
}

void Session::start() {
  std::signal(SIGINT, on_signal);
  std::signal(SIGTERM, on_signal);
  pool_ = std::make_unique<ThreadPool>(threads_);
  context_.pool = pool_.get();
  context_.cancel = &g_cancel;
  context_.memory_budget_bytes = static_cast<std::size_t>(memory_gib_ * 1024 * 1024 * 1024);
  if (!quiet_ && isatty(STDERR_FILENO) != 0) {
    bar_ = std::make_unique<Bar>();
    context_.progress = bar_.get();
  }
}

void Session::finish(const Result<void>& result) {
  if (bar_) bar_->clear();
  if (result.ok()) return;
  exit_code_ = 1;
  std::fputs(fmt::format("nightglass: {}\n", result.error().message()).c_str(), stderr);
}

void Session::print(const std::string& text) const {
  if (bar_) bar_->clear();
  std::fputs(text.c_str(), stdout);
  std::fflush(stdout);
}

void Session::print(const app::Json& document) const {
  if (bar_) bar_->clear();
  std::fputs((document.dump(2) + "\n").c_str(), stdout);
  std::fflush(stdout);
}

void Session::note(const std::string& text) const {
  if (quiet_) return;
  if (bar_) bar_->clear();
  std::fputs((text + "\n").c_str(), stderr);
}

Instant now() {
  using namespace std::chrono;
  return Instant::from_unix_us(duration_cast<microseconds>(system_clock::now().time_since_epoch()).count());
}

std::optional<std::pair<int, int>> read_size(const std::string& text) {
  int width = 0, height = 0;
  char rest = 0;
  if (std::sscanf(text.c_str(), "%dx%d%c", &width, &height, &rest) != 2) return std::nullopt;
  return std::pair(width, height);
}

std::string check_size(const std::string& text) {
  return read_size(text) ? "" : "write it like 1500x1000";
}

}  // namespace ng::cli
