#include "io/tile_dither.h"

#include <array>
#include <limits>

namespace ng::io {
namespace {

constexpr std::int64_t kNumbers = 10000;
constexpr std::int32_t kZeroMark = -2147483646;  // stands for an exact zero in the second dithering method

std::array<float, kNumbers> make_table() {
  std::array<float, kNumbers> table{};
  constexpr std::int64_t kModulus = 2147483647;
  std::int64_t seed = 1;
  for (float& value : table) {
    seed = seed * 16807 % kModulus;
    value = static_cast<float>(static_cast<double>(seed) / static_cast<double>(kModulus));
  }
  return table;
}

// Walks the table from the place that belongs to a tile.
class DitherWalk {
 public:
  DitherWalk(std::int64_t tile, std::int64_t seed) : start_(((tile + seed - 1) % kNumbers + kNumbers) % kNumbers) {
    enter();
  }
  [[nodiscard]] double next() {
    const double value = dither_table()[static_cast<std::size_t>(at_)];
    if (++at_ == kNumbers) {
      start_ = (start_ + 1) % kNumbers;
      enter();
    }
    return value;
  }

 private:
  void enter() { at_ = static_cast<std::int64_t>(dither_table()[static_cast<std::size_t>(start_)] * 500); }
  std::int64_t start_;
  std::int64_t at_ = 0;
};

}  // namespace

std::span<const float> dither_table() {
  static const std::array<float, kNumbers> kTable = make_table();  // a constant of the standard
  return kTable;
}

void dequantize(std::span<const std::int32_t> integers, const Quantization& q, std::int64_t tile, float* out) {
  constexpr float kNan = std::numeric_limits<float>::quiet_NaN();
  if (q.dither == Dither::kNone) {
    for (std::size_t i = 0; i < integers.size(); ++i)
      out[i] = q.blank == integers[i] ? kNan : static_cast<float>(integers[i] * q.scale + q.zero);
    return;
  }
  DitherWalk walk(tile, q.seed);
  for (std::size_t i = 0; i < integers.size(); ++i) {
    const double random = walk.next();  // every pixel takes one, whatever it holds
    if (q.blank == integers[i]) {
      out[i] = kNan;
    } else if (q.dither == Dither::kSubtractiveKeepingZero && integers[i] == kZeroMark) {
      out[i] = 0;
    } else {
      out[i] = static_cast<float>((static_cast<double>(integers[i]) - random + 0.5) * q.scale + q.zero);
    }
  }
}

}  // namespace ng::io
