#include <bit>

#include "io/fits_decode.h"
#include "io/tile_codes.h"

namespace ng::io {
namespace {

// Bits from the most significant one down. Beyond the end come zeros, and failed() is true.
class BitReader {
 public:
  explicit BitReader(std::span<const std::byte> bytes) : at_(bytes.data()), end_(at_ + bytes.size()) {}

  [[nodiscard]] std::uint32_t bits(int n) {  // n <= 32
    if (n == 0) return 0;
    refill();
    const auto value = static_cast<std::uint32_t>(window_ >> (64 - n));
    drop(n);
    return value;
  }
  // Number of zeros before the next one, which is dropped too.
  [[nodiscard]] std::uint32_t zeros() {
    std::uint32_t count = 0;
    while (true) {
      refill();
      const int run = std::countl_zero(window_);
      if (run < have_) {
        drop(run + 1);
        return count + static_cast<std::uint32_t>(run);
      }
      count += static_cast<std::uint32_t>(have_);
      drop(have_);
      if (at_ == end_) {
        failed_ = true;
        return count;
      }
    }
  }
  [[nodiscard]] bool failed() const { return failed_; }

 private:
  void refill() {
    if (have_ > 32) return;
    if (end_ - at_ >= 8) {
      window_ |= load_big_endian<std::uint64_t>(at_, 0) >> have_;
      at_ += (63 - have_) >> 3;
      have_ |= 56;
      return;
    }
    for (; have_ <= 56 && at_ != end_; have_ += 8) window_ |= std::to_integer<std::uint64_t>(*at_++) << (56 - have_);
  }
  void drop(int n) {
    failed_ = failed_ || n > have_;
    window_ = n < 64 ? window_ << n : 0;
    have_ = n < have_ ? have_ - n : 0;
  }

  const std::byte* at_;
  const std::byte* end_;
  std::uint64_t window_ = 0;  // the next `have_` bits, left-aligned, then zeros or bits that are read again
  int have_ = 0;
  bool failed_ = false;
};

// Odd codes are negative differences.
std::uint32_t unfolded(std::uint32_t code) {
  return (code & 1) != 0 ? ~(code >> 1) : code >> 1;
}

std::int32_t as_pixel(std::uint32_t value, int value_bytes) {
  if (value_bytes == 1) return static_cast<std::uint8_t>(value);
  if (value_bytes == 2) return static_cast<std::int16_t>(value);
  return static_cast<std::int32_t>(value);
}

}  // namespace

Result<void> unpack_rice(std::span<const std::byte> code, int value_bytes, int block, std::span<std::int32_t> pixels) {
  // Bits of the number of low bits kept per block, and the number that means "stored as they are" (table in 10.4.1).
  const int split_bits = value_bytes == 1 ? 3 : value_bytes == 2 ? 4 : 5;
  const int raw_split = value_bytes == 1 ? 6 : value_bytes == 2 ? 14 : 25;
  BitReader in(code);
  std::uint32_t last = in.bits(8 * value_bytes);
  for (std::size_t i = 0; i < pixels.size();) {
    const std::size_t end = std::min(pixels.size(), i + static_cast<std::size_t>(block));
    const int split = static_cast<int>(in.bits(split_bits)) - 1;
    if (split > raw_split) return Error(Code::kCorrupt, "a Rice-coded tile is damaged");
    if (split < 0) {
      for (; i < end; ++i) pixels[i] = as_pixel(last, value_bytes);
    } else if (split == raw_split) {
      for (; i < end; ++i) pixels[i] = as_pixel(last += unfolded(in.bits(8 * value_bytes)), value_bytes);
    } else {
      for (; i < end; ++i) {
        const std::uint32_t high = in.zeros() << split;
        pixels[i] = as_pixel(last += unfolded(high | in.bits(split)), value_bytes);
      }
    }
    if (in.failed()) return Error(Code::kCorrupt, "a Rice-coded tile ends too early");
  }
  return {};
}

}  // namespace ng::io
