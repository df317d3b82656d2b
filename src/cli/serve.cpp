#include <fmt/format.h>

#include <chrono>
#include <memory>
#include <thread>

#include "app/workspace.h"
#include "cli/session.h"
#include "server/server.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(Shows the workspace as a page: open the address that it prints in a browser of this machine. Nobody else can reach it.
Ctrl-C ends it; jobs that run are stopped then, and leave nothing half-made.

Examples:
  nightglass serve                                the nearest workspace, port 8765
  nightglass serve --workspace my-sky --port 0    any free port)";

}  // namespace

void add_serve(CLI::App& root, Session& session) {
  struct Options {
    std::string workspace;
    int port = 8765;
  };
  auto o = std::make_shared<Options>();
  CLI::App* command =
      session.add_command(root, "serve", "The page: one night on one screen", kHelp, [o, &session]() -> Result<void> {
        const auto named = o->workspace.empty() ? std::nullopt : std::optional<std::filesystem::path>(o->workspace);
        NG_TRY(const app::Workspace workspace, app::open_workspace(named));
        NG_TRY(const auto server,
               server::Server::start({workspace.folder, o->port, session.context().pool->threads()}));
        const std::string address = fmt::format("http://127.0.0.1:{}", server->port());
        if (session.json()) {
          session.print(app::Json{{"address", address}});
        } else {
          session.print(fmt::format("{}\n", address));
        }
        while (!session.context().cancelled()) std::this_thread::sleep_for(std::chrono::milliseconds(50));
        session.note("stopped");
        return {};
      });
  command->add_option("--workspace", o->workspace, "Folder with site.toml and rig.toml; default: the nearest upwards");
  command->add_option("--port", o->port, "Port on this machine; 0 = any free one")
      ->check(CLI::Range(0, 65535))
      ->capture_default_str();
}

}  // namespace ng::cli
