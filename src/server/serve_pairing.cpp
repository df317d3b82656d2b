#include <fmt/format.h>

#include "server/answers.h"
#include "server/server_parts.h"

namespace ng::server {

using httplib::Request;
using httplib::Response;

namespace {

struct PairRequest {
  std::string code;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("code", self.code);
  }
};

}  // namespace

std::string Server::Parts::cookie_name() const {
  return fmt::format("nightglass-{}", port);
}

bool Server::Parts::paired(const Request& request) const {
  return pairing->knows(cookie_of(request.get_header_value("Cookie"), cookie_name()));
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
    response.set_header(
        "Set-Cookie", fmt::format("{}={}; HttpOnly; SameSite=Strict; Path=/; Max-Age=1209600", cookie_name(), *token));
    answer(response, 200, app::Json::object());
  });
}

}  // namespace ng::server
