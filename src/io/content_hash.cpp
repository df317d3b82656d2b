#include "io/content_hash.h"

#include <fmt/format.h>
#include <xxhash.h>
#if defined(__x86_64__)
#include <xxh_x86dispatch.h>  // the same hashes by the widest vectors that the processor has
#endif

namespace ng::io {

void ContentHash::Free::operator()(XXH3_state_s* state) const {
  XXH3_freeState(state);
}

ContentHash::ContentHash() : state_(XXH3_createState()) {
  XXH3_128bits_reset(state_.get());
}

void ContentHash::add(std::span<const std::byte> bytes) {
  XXH3_128bits_update(state_.get(), bytes.data(), bytes.size());
}

std::string ContentHash::text() const {
  const XXH128_hash_t h = XXH3_128bits_digest(state_.get());
  return fmt::format("{:016x}{:016x}", h.high64, h.low64);
}

std::string content_hash(std::string_view content) {
  ContentHash hash;
  hash.add(std::as_bytes(std::span(content)));
  return hash.text();
}

std::string content_hash(View<const std::uint8_t> map) {
  ContentHash hash;
  for (int y = 0; y < map.height; ++y)
    hash.add(std::as_bytes(std::span(map.row(y), static_cast<std::size_t>(map.width))));
  return hash.text();
}

std::uint64_t content_checksum(std::span<const std::byte> bytes) {
  return XXH3_64bits(bytes.data(), bytes.size());
}

}  // namespace ng::io
