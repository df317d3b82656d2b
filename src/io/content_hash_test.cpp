#include "io/content_hash.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace ng::io {
namespace {

// 5000 bytes, (7 i + i div 251) mod 256: longer than one block of the algorithm (1024 bytes).
std::string long_content() {
  std::string content;
  for (int i = 0; i < 5000; ++i) content += static_cast<char>((i * 7 + i / 251) % 256);
  return content;
}

// Expected: xxhsum 0.8.1, `xxhsum -H2 FILE` on files of these bytes.
TEST(ContentHash, IsWhatXxhsumShows) {
  EXPECT_EQ(content_hash(""), "99aa06d3014798d86001c324468d497f");
  EXPECT_EQ(content_hash("nightglass"), "f9f64dba6e863bb819d6f25fe7def759");
  EXPECT_EQ(content_hash(std::string(1000, '\0')), "3fb94aea6d09b97224c1ea6074dd588c");
  EXPECT_EQ(content_hash(long_content()), "a831ba0ab04f5544e69c7c10fe601e8d");
}

TEST(ContentHash, DoesNotDependOnThePieces) {
  const std::string content = long_content();
  const auto bytes = std::as_bytes(std::span(content));
  for (const std::size_t piece : {1u, 63u, 64u, 241u, 1024u, 4999u}) {
    ContentHash hash;
    for (std::size_t at = 0; at < bytes.size(); at += piece)
      hash.add(bytes.subspan(at, std::min(piece, bytes.size() - at)));
    EXPECT_EQ(hash.text(), content_hash(content)) << piece;
  }
}

TEST(ContentHash, MayBeAskedBeforeTheEnd) {
  ContentHash hash;
  EXPECT_EQ(hash.text(), content_hash(""));
  hash.add(std::as_bytes(std::span(std::string_view("night"))));
  EXPECT_EQ(hash.text(), content_hash("night"));
  hash.add(std::as_bytes(std::span(std::string_view("glass"))));
  EXPECT_EQ(hash.text(), content_hash("nightglass"));
}

// Expected: XXH3_64bits() of xxhash 0.8.1, called from a C program of its own.
TEST(ContentHash, ShortOne) {
  EXPECT_EQ(content_checksum({}), 0x2d06800538d394c2u);
  EXPECT_EQ(content_checksum(std::as_bytes(std::span(std::string_view("nightglass")))), 0xa72f629847f13891u);
}

}  // namespace
}  // namespace ng::io
