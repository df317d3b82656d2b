// io/fits_encode.h - pixels to big-endian FITS words, with the sum of the words for DATASUM on the way.
#pragma once

#include <cstddef>
#include <cstdint>

namespace ng::io {

// Each writes n words to `out` and returns what they add to the sum of 32-bit words. A 16-bit word is worth 2^16 times
// more in the first half of a 32-bit word than in the second: `second_half` says where the first one falls.
[[nodiscard]] std::uint64_t encode_float(const float* in, std::byte* out, std::size_t n);
[[nodiscard]] std::uint64_t encode_uint16(const std::uint16_t* in, std::byte* out, std::size_t n, bool second_half);

// Rounded half to even, clamped to 0..65535, NaN to 0.
void round_to_uint16(const float* in, std::uint16_t* out, std::size_t n);

}  // namespace ng::io
