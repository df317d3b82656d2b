// io/fits_decode.h - big-endian FITS pixels to float, row by row: the innermost loops of reading.
//
// FITS 4.0, sections 4.4.2.5 (physical = BZERO + BSCALE x stored, BLANK) and 5 (big-endian two's complement integers,
// IEEE 754 floats). Byte order is turned by shifts, which compilers turn into vector code on any processor; 16-bit
// integers, of which nearly all frames are made, have code for each kind of processor.
#pragma once

#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <limits>
#include <optional>

namespace ng::io {

struct FitsScale {
  double bzero = 0;
  double bscale = 1;
  std::optional<std::int64_t> blank;  // integer images only

  [[nodiscard]] bool identity() const { return bzero == 0 && bscale == 1; }
  // A shift by a whole number that keeps 8- and 16-bit values exact in float arithmetic.
  [[nodiscard]] bool small_shift() const {
    return bscale == 1 && bzero == std::floor(bzero) && std::fabs(bzero) <= 1 << 22;
  }
};

[[nodiscard]] constexpr std::uint16_t swap_bytes(std::uint16_t v) {
  return static_cast<std::uint16_t>((v >> 8) | (v << 8));
}
[[nodiscard]] constexpr std::uint32_t swap_bytes(std::uint32_t v) {
  return (v >> 24) | ((v >> 8) & 0xFF00u) | ((v << 8) & 0xFF0000u) | (v << 24);
}
[[nodiscard]] constexpr std::uint64_t swap_bytes(std::uint64_t v) {
  return (std::uint64_t{swap_bytes(static_cast<std::uint32_t>(v))} << 32) |
         swap_bytes(static_cast<std::uint32_t>(v >> 32));
}

// The i-th big-endian word at `p`.
template <typename Word>
[[nodiscard]] inline Word load_big_endian(const std::byte* p, std::size_t i) {
  Word v;
  std::memcpy(&v, p + i * sizeof(Word), sizeof(Word));
  return std::endian::native == std::endian::little ? swap_bytes(v) : v;
}

// n pixels of BITPIX `bitpix` at `in`. The caller has checked that bitpix is one of the six of the standard.
void decode_fits_pixels(int bitpix, const std::byte* in, float* out, std::size_t n, const FitsScale& scale);

}  // namespace ng::io
