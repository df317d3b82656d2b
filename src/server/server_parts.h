// server/server_parts.h - what a running server consists of; for the files of this folder that serve one thing each.
#pragma once

#include <httplib.h>

#include <atomic>
#include <optional>
#include <thread>

#include "app/message_read.h"
#include "app/picture_view.h"
#include "server/guard.h"
#include "server/jobs.h"
#include "server/local_network.h"
#include "server/pairing.h"
#include "server/routes.h"
#include "server/server.h"

namespace ng::server {

constexpr double kRequestsPerSecond = 1000, kRequestsInReserve = 2000;

struct Server::Parts {
  explicit Parts(const ServerOptions& o)
      : options(o), routes(make_routes(o.workspace)), reader(o.workspace), jobs(o.threads) {}

  ServerOptions options;
  std::vector<Route> routes;
  app::MessageReader reader;
  app::PictureShelf shelf;
  JobBoard jobs;
  Pace own_pace{kRequestsPerSecond, kRequestsInReserve};     // of this machine
  Pace others_pace{kRequestsPerSecond, kRequestsInReserve};  // of the network: nobody there shuts the owner out
  std::optional<Pairing> pairing;                            // where others than this machine may ask
  std::vector<LocalNetwork> networks;
  std::vector<std::string> hosts;
  std::atomic<int> streams{0};
  std::atomic<bool> stopping{false};
  int port = 0;
  httplib::Server http;
  std::thread listener;

  void prepare();
  bool guarded(const httplib::Request& request, httplib::Response& response);
  bool paired(const httplib::Request& request) const;
  [[nodiscard]] std::string cookie_name() const;
  void serve_pairing();
  void serve_page();
  void serve_services();
  void serve_jobs();
  void serve_pictures();
  void stream(int id, httplib::Response& response);
  Result<std::shared_ptr<app::Picture>> picture(const httplib::Request& request);
};

}  // namespace ng::server
