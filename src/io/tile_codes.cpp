#include "io/tile_codes.h"

#include <zlib.h>

#include <algorithm>

#include "io/fits_decode.h"

namespace ng::io {

// The words are instructions on a line of pixels: 4 bits what, 12 bits how much. `value` is the current high value.
Result<void> unpack_plio(std::span<const std::byte> code, std::span<std::int32_t> pixels) {
  const std::size_t words = code.size() / 2;
  const auto word = [&](std::size_t i) {
    return static_cast<std::int16_t>(load_big_endian<std::uint16_t>(code.data(), i));
  };
  const Error damaged(Code::kCorrupt, "a PLIO-coded tile is damaged");
  std::fill(pixels.begin(), pixels.end(), 0);
  if (words < 3) return damaged;
  // The third word holds the length of an old-style list; when it is not positive, the header tells both.
  std::int64_t first = 3;
  std::int64_t end = word(2);
  if (end <= 0) {
    if (words < 5) return damaged;
    first = word(1);
    end = (std::int64_t{word(4)} << 15) + word(3);
  }
  if (first < 0 || end < first || end > static_cast<std::int64_t>(words)) return damaged;
  std::int32_t value = 1;
  std::size_t x = 0;
  for (std::int64_t i = first; i < end && x < pixels.size(); ++i) {
    const int instruction = word(static_cast<std::size_t>(i)) >> 12;
    const int amount = word(static_cast<std::size_t>(i)) & 0xFFF;
    const std::size_t run = std::min<std::size_t>(static_cast<std::size_t>(amount), pixels.size() - x);
    switch (instruction) {
      case 0:  // zeros
        x += run;
        break;
      case 4:  // a run of the value
        std::fill_n(pixels.begin() + static_cast<std::ptrdiff_t>(x), run, value);
        x += run;
        break;
      case 5:  // zeros, the last one the value
        x += run;
        if (run > 0 && run == static_cast<std::size_t>(amount)) pixels[x - 1] = value;
        break;
      case 1:  // set the value, with twelve more bits from the next word
        if (i + 1 >= end) return damaged;
        value = (std::int32_t{word(static_cast<std::size_t>(++i))} << 12) + amount;
        break;
      case 2:
        value += amount;
        break;
      case 3:
        value -= amount;
        break;
      case 6:  // change the value and write one pixel
      case 7:
        value += instruction == 6 ? amount : -amount;
        pixels[x++] = value;
        break;
      default:
        return damaged;
    }
  }
  return {};
}

Result<std::vector<std::byte>> unpack_gzip(std::span<const std::byte> code, std::size_t limit) {
  std::vector<std::byte> out(limit + 1);  // one more, to notice a stream that is too long
  z_stream z{};
  if (inflateInit2(&z, 15 + 32) != Z_OK) return Error(Code::kIo, "not enough memory to unpack a tile");
  z.next_in = reinterpret_cast<Bytef*>(const_cast<std::byte*>(code.data()));  // zlib only reads it
  z.avail_in = static_cast<uInt>(code.size());
  z.next_out = reinterpret_cast<Bytef*>(out.data());
  z.avail_out = static_cast<uInt>(out.size());
  const int result = inflate(&z, Z_FINISH);
  out.resize(out.size() - z.avail_out);
  inflateEnd(&z);
  if (result != Z_STREAM_END || out.size() > limit) return Error(Code::kCorrupt, "a gzip-coded tile is damaged");
  return out;
}

std::vector<std::byte> unshuffle(std::span<const std::byte> bytes, std::size_t value_bytes) {
  std::vector<std::byte> out(bytes.size());
  const std::size_t n = bytes.size() / value_bytes;
  for (std::size_t b = 0; b < value_bytes; ++b)
    for (std::size_t i = 0; i < n; ++i) out[i * value_bytes + b] = bytes[b * n + i];
  return out;
}

}  // namespace ng::io
