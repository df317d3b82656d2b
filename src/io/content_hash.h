// io/content_hash.h - what a content is called, wherever it lies: XXH3-128 of its bytes, as 32 hexadecimal digits, the
// same that `xxhsum -H2` shows. It tells contents apart and finds damage; against forgery it is no help.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <string_view>

#include "base/image.h"

struct XXH3_state_s;

namespace ng::io {

// Of a content that comes in pieces; where it is cut does not matter.
class ContentHash {
 public:
  ContentHash();
  void add(std::span<const std::byte> bytes);
  // Of all that was added so far; more may follow.
  [[nodiscard]] std::string text() const;

 private:
  struct Free {
    void operator()(XXH3_state_s* state) const;
  };
  std::unique_ptr<XXH3_state_s, Free> state_;
};

[[nodiscard]] std::string content_hash(std::string_view content);
// Of the pixels of a map, row after row.
[[nodiscard]] std::string content_hash(View<const std::uint8_t> map);

// The short one, XXH3-64, for sums that stand inside a file.
[[nodiscard]] std::uint64_t content_checksum(std::span<const std::byte> bytes);

}  // namespace ng::io
