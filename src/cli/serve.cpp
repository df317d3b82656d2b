#include <fmt/format.h>
#include <malloc.h>
#include <unistd.h>

#include <chrono>
#include <memory>
#include <thread>

#include "app/workspace.h"
#include "cli/qr_text.h"
#include "cli/session.h"
#include "server/server.h"

namespace ng::cli {
namespace {

constexpr int kMemoryStores = 4;
constexpr const char* kHelp =
    R"(Shows the workspace as a page: open the address that it prints in a browser of this machine. Nobody else can reach it.
Ctrl-C ends it; jobs that run are stopped then, and leave nothing half-made.

With --lan other devices of the local network may ask too, a phone at the telescope: each is paired once with the code
that is printed, as text and as a QR code, and forgotten when this ends. The way through the air is not encrypted: use it in
a network of your own.

Examples:
  nightglass serve                                the nearest workspace, port 8765
  nightglass serve --workspace my-sky --port 0    any free port
  nightglass serve --lan                          for the phone too)";

// What a phone needs: address and code; both in the QR code, the code behind the '#', which browsers send to nobody.
std::string invitation(const server::Server& server) {
  std::string text;
  const auto addresses = server.addresses();
  for (std::size_t i = 1; i < addresses.size(); ++i) text += addresses[i] + "\n";
  if (addresses.size() < 2) return "this machine is on no network that others could use\n";
  text += fmt::format("Pairing code for another device: {}\n", server.pairing_code());
  const auto picture =
      qr_text(fmt::format("{}/#pair={}", addresses[1], server.pairing_code()), isatty(STDOUT_FILENO) != 0);
  return text + picture.value_or("");
}

}  // namespace

void add_serve(CLI::App& root, Session& session) {
  struct Options {
    std::string workspace;
    int port = 8765;
    bool lan = false;
  };
  auto o = std::make_shared<Options>();
  CLI::App* command =
      session.add_command(root, "serve", "The page: one night on one screen", kHelp, [o, &session]() -> Result<void> {
        // Some hundred threads answer: without a limit each would keep memory of its own that it used once.
        mallopt(M_ARENA_MAX, kMemoryStores);
        const auto named = o->workspace.empty() ? std::nullopt : std::optional<std::filesystem::path>(o->workspace);
        NG_TRY(const app::Workspace workspace, app::open_workspace(named));
        NG_TRY(const auto server,
               server::Server::start({workspace.folder, o->port, session.context().pool->threads(), o->lan}));
        const auto addresses = server->addresses();
        if (session.json()) {
          app::Json reply{{"address", addresses.front()}};
          if (o->lan) {
            reply["addresses"] = addresses;
            reply["pairing_code"] = server->pairing_code();
          }
          session.print(reply);
        } else {
          session.print(fmt::format("{}\n{}", addresses.front(), o->lan ? invitation(*server) : ""));
        }
        while (!session.context().cancelled()) std::this_thread::sleep_for(std::chrono::milliseconds(50));
        session.note("stopped");
        return {};
      });
  command->add_option("--workspace", o->workspace, "Folder with site.toml and rig.toml; default: the nearest upwards");
  command->add_option("--port", o->port, "Port on this machine; 0 = any free one")
      ->check(CLI::Range(0, 65535))
      ->capture_default_str();
  command->add_flag("--lan", o->lan, "Let paired devices of the local network in too");
}

}  // namespace ng::cli
