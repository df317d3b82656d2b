#include "server/page.h"
#include "server/server_parts.h"

namespace ng::server {

using httplib::Request;
using httplib::Response;

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

}  // namespace ng::server
