#include <memory>

#include "server/packed.h"
#include "server/page.h"
#include "server/server_parts.h"

namespace ng::server {

using httplib::Request;
using httplib::Response;

void Server::Parts::serve_page() {
  for (const PageFile& file : page_files()) {
    // Both forms live as long as the handler.
    const auto packed = std::make_shared<const std::string>(gzip(file.bytes, Packing::kThorough));
    const auto give = [&file, packed](const Request& request, Response& response) {
      const bool smaller = unpacks(request) && packed->size() < file.bytes.size();
      const std::string_view bytes = smaller ? std::string_view(*packed) : file.bytes;
      response.set_header("Cache-Control", "no-cache");
      response.set_header("Vary", "Accept-Encoding");
      if (smaller) response.set_header("Content-Encoding", "gzip");
      response.set_content_provider(bytes.size(), std::string(file.type),
                                    [bytes](std::size_t begin, std::size_t count, httplib::DataSink& sink) {
                                      return sink.write(bytes.data() + begin, count);
                                    });
    };
    http.Get(std::string(file.path), give);
    if (file.path == "/index.html") http.Get("/", give);
  }
}

}  // namespace ng::server
