#include "io/fits_encode.h"

#include <bit>
#include <cmath>
#include <cstring>

#include "io/fits_decode.h"

namespace ng::io {
namespace {

template <typename Word>
void store_big_endian(std::byte* p, std::size_t i, Word v) {
  const Word big = std::endian::native == std::endian::little ? swap_bytes(v) : v;
  std::memcpy(p + i * sizeof(Word), &big, sizeof(Word));
}

}  // namespace

std::uint64_t encode_float(const float* in, std::byte* out, std::size_t n) {
  std::uint64_t sum = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const auto bits = std::bit_cast<std::uint32_t>(in[i]);
    store_big_endian(out, i, bits);
    sum += bits;
  }
  return sum;
}

std::uint64_t encode_uint16(const std::uint16_t* in, std::byte* out, std::size_t n, bool second_half) {
  std::uint64_t sums[2] = {0, 0};
  for (std::size_t i = 0; i < n; ++i) {
    const auto stored = static_cast<std::uint16_t>(in[i] ^ 0x8000u);  // value - BZERO in two's complement
    store_big_endian(out, i, stored);
    sums[i & 1] += stored;
  }
  return second_half ? (sums[1] << 16) + sums[0] : (sums[0] << 16) + sums[1];
}

void round_to_uint16(const float* in, std::uint16_t* out, std::size_t n) {
  for (std::size_t i = 0; i < n; ++i) {
    const float limited = in[i] > 0 ? (in[i] < 65535.0F ? in[i] : 65535.0F) : 0.0F;  // NaN compares false: 0
    out[i] = static_cast<std::uint16_t>(std::lrintf(limited));
  }
}

}  // namespace ng::io
