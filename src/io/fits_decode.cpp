#include "io/fits_decode.h"

#include <cassert>

namespace ng::io {
namespace {

constexpr float kNan = std::numeric_limits<float>::quiet_NaN();

// Any integer, any scaling: in double, then rounded once.
template <typename Signed, typename Word>
void decode_integers(const std::byte* in, float* out, std::size_t n, const FitsScale& scale) {
  for (std::size_t i = 0; i < n; ++i) {
    const auto v = static_cast<Signed>(load_big_endian<Word>(in, i));
    out[i] = static_cast<float>(scale.bzero + scale.bscale * static_cast<double>(v));
  }
  if (!scale.blank) return;
  for (std::size_t i = 0; i < n; ++i)
    if (static_cast<Signed>(load_big_endian<Word>(in, i)) == *scale.blank) out[i] = kNan;
}

void decode_int16(const std::byte* in, float* out, std::size_t n, const FitsScale& scale) {
  if (scale.blank || !scale.small_shift()) return decode_integers<std::int16_t, std::uint16_t>(in, out, n, scale);
  const auto shift = static_cast<std::int32_t>(scale.bzero);
  for (std::size_t i = 0; i < n; ++i)
    out[i] = static_cast<float>(static_cast<std::int16_t>(load_big_endian<std::uint16_t>(in, i)) + shift);
}

void decode_uint8(const std::byte* in, float* out, std::size_t n, const FitsScale& scale) {
  for (std::size_t i = 0; i < n; ++i)
    out[i] = static_cast<float>(scale.bzero + scale.bscale * std::to_integer<int>(in[i]));
  if (!scale.blank) return;
  for (std::size_t i = 0; i < n; ++i)
    if (std::to_integer<int>(in[i]) == *scale.blank) out[i] = kNan;
}

void decode_float(const std::byte* in, float* out, std::size_t n, const FitsScale& scale) {
  for (std::size_t i = 0; i < n; ++i) out[i] = std::bit_cast<float>(load_big_endian<std::uint32_t>(in, i));
  if (scale.identity()) return;
  for (std::size_t i = 0; i < n; ++i)
    out[i] = static_cast<float>(scale.bzero + scale.bscale * static_cast<double>(out[i]));
}

void decode_double(const std::byte* in, float* out, std::size_t n, const FitsScale& scale) {
  for (std::size_t i = 0; i < n; ++i) {
    const auto v = std::bit_cast<double>(load_big_endian<std::uint64_t>(in, i));
    out[i] = static_cast<float>(scale.bzero + scale.bscale * v);
  }
}

}  // namespace

void decode_fits_pixels(int bitpix, const std::byte* in, float* out, std::size_t n, const FitsScale& scale) {
  switch (bitpix) {
    case 8:
      return decode_uint8(in, out, n, scale);
    case 16:
      return decode_int16(in, out, n, scale);
    case 32:
      return decode_integers<std::int32_t, std::uint32_t>(in, out, n, scale);
    case 64:
      return decode_integers<std::int64_t, std::uint64_t>(in, out, n, scale);
    case -32:
      return decode_float(in, out, n, scale);
    case -64:
      return decode_double(in, out, n, scale);
    default:
      assert(!"BITPIX is checked where the header is read");
  }
}

}  // namespace ng::io
