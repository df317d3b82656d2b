// io/tile_dither.h - integers of a quantized tile back to floats.
//
// FITS 4.0, section 10.2 and appendix I: value = ZZERO + ZSCALE x (integer - random + 0.5), where `random` comes from
// one fixed table of 10 000 numbers (Park & Miller 1988, generator 16807) entered at a place given by the tile's
// number.
#pragma once

#include <cstdint>
#include <optional>
#include <span>

namespace ng::io {

enum class Dither : std::uint8_t { kNone, kSubtractive, kSubtractiveKeepingZero };

struct Quantization {
  double scale = 1;
  double zero = 0;
  Dither dither = Dither::kNone;
  std::int64_t seed = 1;              // ZDITHER0
  std::optional<std::int64_t> blank;  // ZBLANK: this integer means undefined
};

// `tile` counts from 0. out has the size of `integers`.
void dequantize(std::span<const std::int32_t> integers, const Quantization& q, std::int64_t tile, float* out);

// The table, for the tests.
[[nodiscard]] std::span<const float> dither_table();

}  // namespace ng::io
