// io/tile_codes.h - the codes in which FITS packs the tiles of an image, undone with every bound checked.
//
// FITS standard 4.0, section 10.4: RICE_1 (10.4.1; Rice, Yeh & Miller 1993), GZIP_1 and GZIP_2 (10.4.2), PLIO_1
// (10.4.3). Why not by cfitsio, which the tests use as the slow twin: its Rice decoder (4.2) reads beyond its input
// when a byte of a file has flipped, and takes the program down with it.
//
// All return kCorrupt when the code ends too early or makes no sense; nothing is read or written outside the spans.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "base/result.h"

namespace ng::io {

// Differences of neighbours in blocks of `block` pixels, for values of `value_bytes` 1 (unsigned), 2 or 4 (signed).
[[nodiscard]] Result<void> unpack_rice(std::span<const std::byte> code, int value_bytes, int block,
                                       std::span<std::int32_t> pixels);

// Run lengths of positive integers: 16-bit big-endian words.
[[nodiscard]] Result<void> unpack_plio(std::span<const std::byte> code, std::span<std::int32_t> pixels);

// A gzip (or zlib) stream of at most `limit` bytes.
[[nodiscard]] Result<std::vector<std::byte>> unpack_gzip(std::span<const std::byte> code, std::size_t limit);

// GZIP_2 stores the most significant bytes of all values first, then the next ones: puts them together again.
[[nodiscard]] std::vector<std::byte> unshuffle(std::span<const std::byte> bytes, std::size_t value_bytes);

}  // namespace ng::io
