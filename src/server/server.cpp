#include "server/server.h"

#include <fmt/format.h>
#include <httplib.h>
#include <sys/socket.h>
#include <unistd.h>

#include "server/answers.h"
#include "server/hands.h"
#include "server/packed.h"
#include "server/server_parts.h"

namespace ng::server {

using httplib::Request;
using httplib::Response;

namespace {

constexpr std::size_t kMostBody = 1 << 20;
constexpr int kHands = 96;  // threads that answer: streams hold one each

// Scripts and styles of our own alone; nothing inline, nothing from elsewhere.
constexpr const char* kContentPolicy =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; "
    "font-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

}  // namespace

void Server::Parts::prepare() {
  http.new_task_queue = [] { return new Hands(kHands); };
  http.set_payload_max_length(kMostBody);
  http.set_read_timeout(10);
  http.set_write_timeout(10);
  http.set_keep_alive_max_count(10000);
  // Without the library's SO_REUSEPORT, which would share a port that another program holds.
  http.set_socket_options([](socket_t socket) {
    int yes = 1;
    setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
  });
  httplib::Headers headers{{"Content-Security-Policy", kContentPolicy},
                           {"X-Content-Type-Options", "nosniff"},
                           {"Referrer-Policy", "no-referrer"},
                           {"Cross-Origin-Resource-Policy", "same-origin"}};
  // Browsers complain of this one where the way is not encrypted, except on the machine itself.
  if (!pairing) headers.emplace("Cross-Origin-Opener-Policy", "same-origin");
  http.set_default_headers(headers);
  http.set_pre_routing_handler([this](const Request& request, Response& response) {
    using Verdict = httplib::Server::HandlerResponse;
    return guarded(request, response) ? Verdict::Unhandled : Verdict::Handled;
  });
  http.set_post_routing_handler(pack);
  http.set_error_handler([](const Request&, Response& response) {
    if (!response.body.empty()) return;
    refuse(response, response.status,
           response.status == 413   ? "the request is larger than 1 MiB"
           : response.status == 404 ? "there is no such page or service"
                                    : "the request cannot be understood");
  });
  http.set_exception_handler([](const Request&, Response& response, std::exception_ptr) {
    refuse(response, 500, "the service failed: this is our mistake");
  });
  serve_page();
  serve_pairing();
  serve_services();
  serve_jobs();
  serve_pictures();
}

// Whether the request may go on; the answer is written where it may not.
bool Server::Parts::guarded(const Request& request, Response& response) {
  const auto no = [&](int status, const std::string& why) {
    refuse(response, status, why);
    return false;
  };
  const bool own = is_loopback(request.remote_addr);
  if (!(own ? own_pace : others_pace).pass()) return no(429, "too many requests at once: wait a moment");
  // Thousands of overlapping ones would be answered with gigabytes.
  if (request.ranges.size() > 1) return no(416, "one range of a file at a time");
  const Asker asker{request.get_header_value("Host"), request.get_header_value("Origin"),
                    request.get_header_value("Sec-Fetch-Site")};
  if (const auto why = refusal(asker, hosts)) return no(403, *why);
  if (request.method == "POST" && request.get_header_value("Content-Type").rfind("application/json", 0) != 0)
    return no(415, "requests are JSON: say so in Content-Type");
  if (own) return true;
  if (!pairing || !is_neighbour(request.remote_addr, networks)) return no(403, "only the local network may ask here");
  // The page itself holds nothing of the person; everything else asks for the token.
  if (request.path.rfind("/api/", 0) == 0 && request.path != "/api/pair" && !paired(request))
    return no(401, "this device is not paired: enter the code that the terminal shows");
  return true;
}

Server::Server() = default;

Result<std::unique_ptr<Server>> Server::start(const ServerOptions& options) {
  std::unique_ptr<Server> server(new Server());
  server->parts_ = std::make_unique<Parts>(options);
  Parts& p = *server->parts_;
  std::vector<std::string> names;
  if (options.lan) {
    NG_TRY(auto pairing, Pairing::create());
    p.pairing.emplace(std::move(pairing));
    p.networks = local_networks();
    for (const LocalNetwork& n : p.networks) names.push_back(format_ipv4(n.address));
    char name[256] = {};
    if (gethostname(name, sizeof name - 1) == 0) {
      names.emplace_back(name);
      names.push_back(std::string(name) + ".local");
    }
  }
  p.prepare();
  const char* listen = options.lan ? "0.0.0.0" : "127.0.0.1";
  if (options.port == 0) {
    p.port = p.http.bind_to_any_port(listen);
  } else if (p.http.bind_to_port(listen, options.port)) {
    p.port = options.port;
  }
  p.hosts = hosts_of(p.port, names);
  if (p.port <= 0)
    return Error(Code::kIo, fmt::format("port {} is taken by another program: choose another --port", options.port));
  p.listener = std::thread([&p] { p.http.listen_after_bind(); });
  while (!p.http.is_running()) std::this_thread::sleep_for(std::chrono::milliseconds(1));
  return server;
}

Server::~Server() {
  if (!parts_ || !parts_->listener.joinable()) return;
  parts_->stopping = true;
  parts_->http.stop();
  parts_->listener.join();
}

int Server::port() const {
  return parts_->port;
}

std::vector<std::string> Server::addresses() const {
  std::vector<std::string> list{fmt::format("http://127.0.0.1:{}", parts_->port)};
  for (const LocalNetwork& n : parts_->networks)
    list.push_back(fmt::format("http://{}:{}", format_ipv4(n.address), parts_->port));
  return list;
}

std::string Server::pairing_code() const {
  return parts_->pairing ? parts_->pairing->code() : "";
}

}  // namespace ng::server
