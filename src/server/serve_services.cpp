#include "server/answers.h"
#include "server/openapi.h"
#include "server/server_parts.h"

namespace ng::server {

using httplib::Request;
using httplib::Response;

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

}  // namespace ng::server
