#include "io/fits_decode.h"

#include <cassert>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "io/fits_decode.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::io::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

// What nearly every camera writes: 16 bits and a whole shift.
void decode_shifted_int16(const std::byte* in, float* out, std::size_t n, std::int32_t shift) {
  const hn::CappedTag<float, 16> d;
  const hn::RebindToSigned<decltype(d)> di;
  const hn::Rebind<std::uint16_t, decltype(d)> words;
  const hn::Rebind<std::int16_t, decltype(d)> numbers;
  const hn::Repartition<std::uint8_t, decltype(words)> bytes;
  const auto offset = hn::Set(di, shift);
  std::size_t i = 0;
  for (; i + hn::Lanes(d) <= n; i += hn::Lanes(d)) {
    const auto big_endian = hn::BitCast(words, hn::LoadU(bytes, reinterpret_cast<const std::uint8_t*>(in) + 2 * i));
    const auto turned = hn::Or(hn::ShiftLeft<8>(big_endian), hn::ShiftRight<8>(big_endian));
    const auto stored = hn::BitCast(numbers, std::endian::native == std::endian::little ? turned : big_endian);
    hn::StoreU(hn::ConvertTo(d, hn::Add(hn::PromoteTo(di, stored), offset)), d, out + i);
  }
  for (; i < n; ++i)
    out[i] = static_cast<float>(static_cast<std::int16_t>(load_big_endian<std::uint16_t>(in, i)) + shift);
}

}  // namespace ng::io::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::io {

HWY_EXPORT(decode_shifted_int16);

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
  HWY_DYNAMIC_DISPATCH(decode_shifted_int16)(in, out, n, static_cast<std::int32_t>(scale.bzero));
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
#endif
