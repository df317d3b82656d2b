// server/server.h - the page and its services over HTTP: for this machine alone, or for paired devices of the local
// network.
//
//   GET  /                           the page
//   POST /api/NAME                   a service: request and reply as JSON, as with --json; an error is {"error": "..."}
//   POST /api/jobs/NAME              a long one: {"id"}
//   GET  /api/openapi.json           what all of this is, as OpenAPI 3.1
//   GET  /api/jobs, /api/jobs/ID     jobs, and one of them whole
//   GET  /api/jobs/ID/events         the same as server-sent events "job", until it has ended
//   POST /api/jobs/ID/cancel
//   GET  /api/picture?path=&layer=   facts of an image of the workspace; layer: value, error or coverage
//   GET  /api/picture/tile?path=&layer=&level=&column=&row=&plane=    float32, little-endian, row by row; X-Width,
//                                    X-Height
//   GET  /api/picture/probe?path=&x=&y=
//   GET  /api/file?path=             a finished picture of the workspace, or its recipe
//   GET  /api/pair                   {"paired"}: whether this device may ask
//   POST /api/pair                   {"code"}: the code that the terminal shows becomes a token, kept as a cookie
//
// Status: 200; 400 the data forbid it; 401 not paired; 403 not from here; 404; 413, 415, 429, 503 too much or of the
// wrong kind.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"

namespace ng::server {

struct ServerOptions {
  std::filesystem::path workspace;
  int port = 0;      // 0: any free one
  int threads = 0;   // of the jobs; 0 = one per processor
  bool lan = false;  // for the local network too, then with pairing
};

class Server {
 public:
  // Listens from now on. Errors: kIo (the port is taken).
  [[nodiscard]] static Result<std::unique_ptr<Server>> start(const ServerOptions& options);
  // Ends open streams, cancels jobs, waits for both.
  ~Server();
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;

  [[nodiscard]] int port() const;
  // "http://192.168.1.20:8765"; this machine's own first.
  [[nodiscard]] std::vector<std::string> addresses() const;
  // What a device must know; empty where only this machine may ask.
  [[nodiscard]] std::string pairing_code() const;

 private:
  Server();
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

}  // namespace ng::server
