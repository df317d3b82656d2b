// server/packed.h - answers, packed where the other side unpacks them.
//
// The HTTP library packs with brotli at its slowest level: a quarter of a second for the page's script, seconds for the
// list of candidates. Here gzip (RFC 1952) is used, lightly for what is made anew, thoroughly for what stays the same.
#pragma once

#include <httplib.h>

#include <string>
#include <string_view>

namespace ng::server {

enum class Packing { kLight = 1, kThorough = 9 };

[[nodiscard]] std::string gzip(std::string_view bytes, Packing packing);

// Whether the asker unpacks gzip.
[[nodiscard]] bool unpacks(const httplib::Request& request);

// The type of JSON answers; the library leaves bodies of this type as they are.
inline constexpr const char* kJsonType = "application/json; charset=utf-8";

// For the library's last call before an answer goes out: packs JSON that is large enough.
void pack(const httplib::Request& request, httplib::Response& response);

}  // namespace ng::server
