#include "server/packed.h"

#include <zlib.h>

#include <cassert>

namespace ng::server {
namespace {

constexpr std::size_t kWorthPacking = 1400;  // bytes: less fits into one packet of a network anyway
constexpr int kGzipWindow = 15 + 16;         // zlib's largest window, with a gzip header

void replace_header(httplib::Response& response, const char* name, const std::string& value) {
  response.headers.erase(name);
  response.set_header(name, value);
}

}  // namespace

std::string gzip(std::string_view bytes, Packing packing) {
  z_stream stream{};
  [[maybe_unused]] const int ready =
      deflateInit2(&stream, static_cast<int>(packing), Z_DEFLATED, kGzipWindow, 8, Z_DEFAULT_STRATEGY);
  assert(ready == Z_OK);
  std::string packed(deflateBound(&stream, bytes.size()), '\0');
  stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(bytes.data()));
  stream.avail_in = static_cast<uInt>(bytes.size());
  stream.next_out = reinterpret_cast<Bytef*>(packed.data());
  stream.avail_out = static_cast<uInt>(packed.size());
  [[maybe_unused]] const int ended = deflate(&stream, Z_FINISH);
  assert(ended == Z_STREAM_END);  // the bound holds all of it
  packed.resize(stream.total_out);
  deflateEnd(&stream);
  return packed;
}

bool unpacks(const httplib::Request& request) {
  return request.get_header_value("Accept-Encoding").find("gzip") != std::string::npos;
}

void pack(const httplib::Request& request, httplib::Response& response) {
  if (response.body.size() < kWorthPacking || response.get_header_value("Content-Type") != kJsonType) return;
  replace_header(response, "Vary", "Accept-Encoding");
  if (!unpacks(request)) return;
  response.body = gzip(response.body, Packing::kLight);
  response.set_header("Content-Encoding", "gzip");
  replace_header(response, "Content-Length", std::to_string(response.body.size()));
}

}  // namespace ng::server
