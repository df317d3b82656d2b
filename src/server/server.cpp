#include "server/server.h"

#include <fmt/format.h>
#include <httplib.h>
#include <sys/socket.h>
#include <unistd.h>

#include <atomic>
#include <charconv>
#include <cstring>
#include <thread>

#include "app/message.h"
#include "app/message_read.h"
#include "app/picture_view.h"
#include "app/text_file.h"
#include "server/guard.h"
#include "server/hands.h"
#include "server/jobs.h"
#include "server/local_network.h"
#include "server/openapi.h"
#include "server/page.h"
#include "server/pairing.h"
#include "server/routes.h"

namespace ng::server {
namespace {

namespace fs = std::filesystem;
using httplib::Request;
using httplib::Response;

constexpr std::size_t kMostBody = 1 << 20;
constexpr int kMostStreams = 64;
constexpr int kHands = 96;  // threads that answer: streams hold one each
constexpr double kPerSecond = 1000, kReserve = 2000;

// Scripts and styles of our own alone; nothing inline, nothing from elsewhere.
constexpr const char* kContentPolicy =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; "
    "font-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

void answer(Response& response, int status, const app::Json& json) {
  response.status = status;
  response.set_header("Cache-Control", "no-store");
  response.set_content(json.dump(-1, ' ', false, app::Json::error_handler_t::replace), "application/json");
}

void refuse(Response& response, int status, const std::string& why) {
  answer(response, status, {{"error", why}});
}

void answer(Response& response, const Result<app::Json>& result) {
  if (result.ok()) {
    answer(response, 200, *result);
  } else {
    refuse(response, result.error().code() == Code::kNotFound ? 404 : 400, result.error().message());
  }
}

// Reading and writing go as deep as the text: no request of ours is deeper than a handful.
bool too_deep(const std::string& text) {
  constexpr int kDeepest = 32;
  int depth = 0;
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted && c == '\\') ++i;
    if (c == '"') quoted = !quoted;
    if (quoted) continue;
    if ((c == '[' || c == '{') && ++depth > kDeepest) return true;
    if (c == ']' || c == '}') --depth;
  }
  return false;
}

Result<app::Json> body_of(const Request& request) {
  if (request.body.empty()) return app::Json::object();
  if (too_deep(request.body)) return Error(Code::kInvalidInput, "the body of the request is nested too deeply");
  app::Json json = app::Json::parse(request.body, nullptr, false);
  if (json.is_discarded()) return Error(Code::kInvalidInput, "the body of the request is not JSON");
  return json;
}

struct PairRequest {
  std::string code;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("code", self.code);
  }
};

Result<int> whole(const Request& request, const char* name) {
  const std::string text = request.get_param_value(name);
  int value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size())
    return Error(Code::kInvalidInput, fmt::format("{} is '{}': give a whole number", name, text));
  return value;
}

}  // namespace

struct Server::Parts {
  explicit Parts(const ServerOptions& o)
      : options(o), routes(make_routes(o.workspace)), reader(o.workspace), jobs(o.threads) {}

  ServerOptions options;
  std::vector<Route> routes;
  app::MessageReader reader;
  app::PictureShelf shelf;
  JobBoard jobs;
  Pace pace{kPerSecond, kReserve};
  std::optional<Pairing> pairing;  // where others than this machine may ask
  std::vector<LocalNetwork> networks;
  std::vector<std::string> hosts;
  std::atomic<int> streams{0};
  std::atomic<bool> stopping{false};
  int port = 0;
  httplib::Server http;
  std::thread listener;

  void prepare();
  bool guarded(const Request& request, Response& response);
  bool paired(const Request& request) const;
  [[nodiscard]] std::string cookie() const { return fmt::format("nightglass-{}", port); }
  void serve_pairing();
  void serve_page();
  void serve_services();
  void serve_jobs();
  void serve_pictures();
  void stream(int id, Response& response);
  Result<std::shared_ptr<app::Picture>> picture(const Request& request);
};

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
  if (!pace.pass()) return no(429, "too many requests at once: wait a moment");
  // Thousands of overlapping ones would be answered with gigabytes.
  if (request.ranges.size() > 1) return no(416, "one range of a file at a time");
  const Asker asker{request.get_header_value("Host"), request.get_header_value("Origin"),
                    request.get_header_value("Sec-Fetch-Site")};
  if (const auto why = refusal(asker, hosts)) return no(403, *why);
  if (request.method == "POST" && request.get_header_value("Content-Type").rfind("application/json", 0) != 0)
    return no(415, "requests are JSON: say so in Content-Type");
  if (is_loopback(request.remote_addr)) return true;
  if (!pairing || !is_neighbour(request.remote_addr, networks)) return no(403, "only the local network may ask here");
  // The page itself holds nothing of the person; everything else asks for the token.
  if (request.path.rfind("/api/", 0) == 0 && request.path != "/api/pair" && !paired(request))
    return no(401, "this device is not paired: enter the code that the terminal shows");
  return true;
}

bool Server::Parts::paired(const Request& request) const {
  return pairing->knows(cookie_of(request.get_header_value("Cookie"), cookie()));
}

void Server::Parts::serve_pairing() {
  http.Get("/api/pair", [this](const Request& request, Response& response) {
    answer(response, 200, {{"paired", is_loopback(request.remote_addr) || paired(request)}});
  });
  http.Post("/api/pair", [this](const Request& request, Response& response) {
    if (!pairing) return refuse(response, 404, "nobody else may ask here: there is nothing to pair");
    const auto json = body_of(request);
    if (!json.ok()) return answer(response, json);
    PairRequest wish;
    if (const auto read = reader.read(*json, "", wish); !read.ok())
      return refuse(response, 400, read.error().message());
    const auto token = pairing->pair(wish.code);
    if (!token.ok()) {
      const Code why = token.error().code();
      return refuse(response,
                    why == Code::kTooFew         ? 429
                    : why == Code::kInvalidInput ? 401
                                                 : 503,
                    token.error().message());
    }
    // Kept by the browser where no script reads it, and sent back to this server alone.
    response.set_header("Set-Cookie",
                        fmt::format("{}={}; HttpOnly; SameSite=Strict; Path=/; Max-Age=1209600", cookie(), *token));
    answer(response, 200, app::Json::object());
  });
}

void Server::Parts::serve_page() {
  for (const PageFile& file : page_files()) {
    const auto give = [&file](const Request&, Response& response) {
      response.set_header("Cache-Control", "no-cache");
      response.set_content(file.bytes.data(), file.bytes.size(), std::string(file.type));
    };
    http.Get(std::string(file.path), give);
    if (file.path == "/index.html") http.Get("/", give);
  }
}

void Server::Parts::serve_services() {
  http.Get("/api/openapi.json", [this](const Request&, Response& response) { answer(response, 200, openapi(routes)); });
  for (const Route& route : routes) {
    if (!route.job) {
      http.Post("/api/" + route.name, [&route](const Request& request, Response& response) {
        const auto json = body_of(request);
        answer(response, json.ok() ? route.run(*json, Context{}) : json);
      });
      continue;
    }
    http.Post("/api/jobs/" + route.name, [this, &route](const Request& request, Response& response) {
      const auto json = body_of(request);
      if (!json.ok()) return answer(response, json);
      const auto id = jobs.start(route.name, *json, route.run);
      if (!id.ok()) return refuse(response, 503, id.error().message());
      answer(response, 200, {{"id", *id}});
    });
  }
}

void Server::Parts::serve_jobs() {
  http.Get("/api/jobs", [this](const Request&, Response& response) {
    answer(response, 200, {{"jobs", app::to_json(jobs.list())}});
  });
  http.Get(R"(/api/jobs/(\d{1,9}))", [this](const Request& request, Response& response) {
    const auto view = jobs.view(std::stoi(request.matches[1]));
    if (!view) return refuse(response, 404, "there is no such job; jobs are forgotten when the server stops");
    answer(response, 200, app::to_json(*view));
  });
  http.Post(R"(/api/jobs/(\d{1,9})/cancel)", [this](const Request& request, Response& response) {
    if (!jobs.cancel(std::stoi(request.matches[1]))) return refuse(response, 404, "there is no such job");
    answer(response, 200, app::Json::object());
  });
  http.Get(R"(/api/jobs/(\d{1,9})/events)", [this](const Request& request, Response& response) {
    const int id = std::stoi(request.matches[1]);
    if (!jobs.view(id)) return refuse(response, 404, "there is no such job; jobs are forgotten when the server stops");
    stream(id, response);
  });
}

void Server::Parts::stream(int id, Response& response) {
  if (streams.fetch_add(1) >= kMostStreams) {
    streams.fetch_sub(1);
    return refuse(response, 503, "64 windows watch already: close some");
  }
  response.set_header("Cache-Control", "no-store");
  response.set_chunked_content_provider(
      "text/event-stream",
      [this, id, seen = std::uint64_t{0}](std::size_t, httplib::DataSink& sink) mutable {
        const auto change = jobs.view_after(id, seen, std::chrono::milliseconds(1000));
        if (stopping || (!change && !jobs.view(id))) {
          sink.done();
          return true;
        }
        // A line of comment keeps the connection, and shows when the other side has gone.
        std::string text = ": \n\n";
        if (change) {
          seen = change->version;
          text = "event: job\ndata: " + app::to_json(change->view).dump() + "\n\n";
        }
        if (!sink.write(text.data(), text.size())) return false;
        if (change && change->view.ended()) sink.done();
        return true;
      },
      [this](bool) { streams.fetch_sub(1); });
}

Result<std::shared_ptr<app::Picture>> Server::Parts::picture(const Request& request) {
  NG_TRY(const fs::path path, reader.path(request.get_param_value("path"), "path"));
  const std::string word = request.get_param_value("layer");
  app::PictureLayer layer = app::PictureLayer::kValue;
  if (!word.empty()) NG_CHECK(reader.read(app::Json(word), "layer", layer));
  return shelf.open(path, layer, Context{});
}

void Server::Parts::serve_pictures() {
  http.Get("/api/picture", [this](const Request& request, Response& response) {
    answer(response, [&]() -> Result<app::Json> {
      NG_TRY(const auto shown, picture(request));
      return app::to_json(shown->facts());
    }());
  });
  http.Get("/api/picture/probe", [this](const Request& request, Response& response) {
    answer(response, [&]() -> Result<app::Json> {
      NG_TRY(const auto shown, picture(request));
      NG_TRY(const int x, whole(request, "x"));
      NG_TRY(const int y, whole(request, "y"));
      NG_TRY(const app::PixelProbe probe, shown->probe(x, y));
      return app::to_json(probe);
    }());
  });
  http.Get("/api/picture/tile", [this](const Request& request, Response& response) {
    const auto tile = [&]() -> Result<Image<float>> {
      NG_TRY(const auto shown, picture(request));
      NG_TRY(const int level, whole(request, "level"));
      NG_TRY(const int column, whole(request, "column"));
      NG_TRY(const int row, whole(request, "row"));
      NG_TRY(const int plane, whole(request, "plane"));
      return shown->tile(level, column, row, plane);
    }();
    if (!tile.ok()) return answer(response, Result<app::Json>(tile.error()));
    const auto row_bytes = sizeof(float) * static_cast<std::size_t>(tile->width());
    std::string bytes(row_bytes * static_cast<std::size_t>(tile->height()), '\0');
    for (int y = 0; y < tile->height(); ++y)
      std::memcpy(bytes.data() + row_bytes * static_cast<std::size_t>(y), tile->plane().row(y), row_bytes);
    response.set_header("X-Width", std::to_string(tile->width()));
    response.set_header("X-Height", std::to_string(tile->height()));
    response.set_header("Cache-Control", "no-cache");
    response.set_content(std::move(bytes), "application/octet-stream");
  });
  http.Get("/api/file", [this](const Request& request, Response& response) {
    const auto path = reader.path(request.get_param_value("path"), "path");
    if (!path.ok()) return answer(response, Result<app::Json>(path.error()));
    const std::string kind = path->extension().string();
    const char* type = kind == ".png"                             ? "image/png"
                       : kind == ".jpg"                           ? "image/jpeg"
                       : kind == ".tif"                           ? "image/tiff"
                       : path->string().ends_with(".recipe.toml") ? "text/plain; charset=utf-8"
                                                                  : nullptr;
    if (type == nullptr)
      return refuse(response, 400, "only finished pictures, .png, .jpg and .tif, and their recipes are given");
    auto bytes = app::read_text(*path);
    if (!bytes.ok()) return answer(response, Result<app::Json>(bytes.error()));
    response.set_header("Cache-Control", "no-cache");
    response.set_content(*std::move(bytes), type);
  });
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
