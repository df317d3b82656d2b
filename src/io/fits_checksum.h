// io/fits_checksum.h - DATASUM and CHECKSUM of FITS 4.0 (section 4.4.2.7, appendix J): a 32-bit ones'-complement sum.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>

namespace ng::io {

// Sum of big-endian 32-bit words with the carries brought round, modulo 2^32 - 1 with 0xFFFFFFFF kept apart from 0.
// Blocks may be added in any order as long as each begins at a multiple of four bytes.
class OnesComplementSum {
 public:
  void add_words(std::uint64_t sum_of_words) { sum_ = fold(sum_ + fold(sum_of_words)); }
  void add(std::span<const std::byte> bytes);  // a last incomplete word is filled up with zeros
  [[nodiscard]] std::uint32_t value() const { return static_cast<std::uint32_t>(sum_); }

 private:
  [[nodiscard]] static constexpr std::uint64_t fold(std::uint64_t s) {
    s = (s & 0xFFFFFFFFu) + (s >> 32);
    return (s & 0xFFFFFFFFu) + (s >> 32);
  }
  std::uint64_t sum_ = 0;
};

// The 16 characters of the CHECKSUM card for a sum, complemented as the standard asks when `complement` is true.
[[nodiscard]] std::string encode_checksum(std::uint32_t sum, bool complement = true);

}  // namespace ng::io
