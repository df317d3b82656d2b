// io/byte_source.h - the bytes of a file at any offset, plain or inside gzip, holding no file open between reads unless
// asked to.
//
// Thousands of frames may be open at once: a source costs no descriptor, and a gzip source keeps only a few restart
// points (RFC 1952 members, RFC 1951 streams) instead of the inflated file.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>

#include "base/result.h"

namespace ng::io {

class ByteSource {
 public:
  virtual ~ByteSource() = default;

  // Fills `out` from `offset`. Returns the number of bytes read: fewer than asked only where the data end.
  // Errors: kIo (also when the file was changed meanwhile), kCorrupt (damaged gzip stream), kNotFound (the file went
  // away). One thread at a time per source.
  [[nodiscard]] virtual Result<std::size_t> read_at(std::uint64_t offset, std::span<std::byte> out) = 0;
  // Length of the data, where it is known without reading them all (plain files; gzip after its end was reached).
  [[nodiscard]] virtual std::optional<std::uint64_t> size() const = 0;
  // No data can be longer than this, whatever a header claims: deflate expands at most 1032 : 1.
  [[nodiscard]] virtual std::uint64_t size_limit() const = 0;
  // Reads to the end, so that a gzip stream proves its own check value. Nothing to do for a plain file.
  [[nodiscard]] virtual Result<void> verify_to_end() = 0;
  [[nodiscard]] virtual bool compressed() const = 0;
  // Whether a plain file stays open between reads; at first it does not.
  virtual void keep_open(bool) {}
};

// Opens a regular file; recognises gzip by its first two bytes. Errors: kNotFound, kIo.
[[nodiscard]] Result<std::unique_ptr<ByteSource>> open_bytes(const std::filesystem::path& path);

// A plain file read as it is, gzip or not.
[[nodiscard]] Result<std::unique_ptr<ByteSource>> open_plain_bytes(const std::filesystem::path& path);

}  // namespace ng::io
