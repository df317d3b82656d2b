// cli/session.h - what every command shares: the options --threads, --json and --quiet, the pool, Ctrl-C, the progress
// bar, and how replies and errors reach the person.
//
// Standard output carries the reply alone (a text for people, or one JSON document with --json); progress and messages
// go to standard error. Exit codes: 0 done, 1 the data forbid it, 2 wrong usage.
#pragma once

#include <CLI/CLI.hpp>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "app/message.h"
#include "base/context.h"
#include "base/instant.h"
#include "base/parallel.h"
#include "base/result.h"

namespace ng::cli {

class Session {
 public:
  Session();
  ~Session();

  // Adds a command with the common options. `run` is called after parsing; what it returns decides the exit code.
  CLI::App* add_command(CLI::App& root, const std::string& name, const std::string& summary, const std::string& footer,
                        std::function<Result<void>()> run);

  // Valid while a command runs.
  [[nodiscard]] const Context& context() const { return context_; }
  [[nodiscard]] bool json() const { return json_; }

  void print(const std::string& text) const;    // reply for people; not called with --json
  void print(const app::Json& document) const;  // reply for programs
  void note(const std::string& text) const;     // a line on standard error, unless --quiet
  [[nodiscard]] int exit_code() const { return exit_code_; }

 private:
  class Bar;
  void start();
  void finish(const Result<void>& result);

  int threads_ = 0;
  double memory_gib_ = 1.0;
  bool json_ = false;
  bool quiet_ = false;
  int exit_code_ = 0;
  std::unique_ptr<ThreadPool> pool_;
  std::unique_ptr<Bar> bar_;
  Context context_;
};

[[nodiscard]] Instant now();

// "1500x1000" as width and height; nothing when it is not like that. check_size: empty, or what to write.
[[nodiscard]] std::optional<std::pair<int, int>> read_size(const std::string& text);
[[nodiscard]] std::string check_size(const std::string& text);

// One function per command, each in its own file.
void add_init(CLI::App& root, Session& session);
void add_expose(CLI::App& root, Session& session);
void add_schedule(CLI::App& root, Session& session);
void add_power(CLI::App& root, Session& session);
void add_rehearse(CLI::App& root, Session& session);
void add_measure(CLI::App& root, Session& session);
void add_reduce(CLI::App& root, Session& session);
void add_finish(CLI::App& root, Session& session);
void add_solve(CLI::App& root, Session& session);
void add_sky(CLI::App& root, Session& session);
void add_pole(CLI::App& root, Session& session);
void add_tonight(CLI::App& root, Session& session);
void add_compose(CLI::App& root, Session& session);
void add_ingest(CLI::App& root, Session& session);
void add_library(CLI::App& root, Session& session);
void add_catalogue(CLI::App& root, Session& session);
void add_sensor(CLI::App& root, Session& session);
void add_serve(CLI::App& root, Session& session);

}  // namespace ng::cli
