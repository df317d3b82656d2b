#include "server/answers.h"
#include "server/server_parts.h"

namespace ng::server {

using httplib::Request;
using httplib::Response;

namespace {

constexpr int kMostStreams = 64;

}  // namespace

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

}  // namespace ng::server
