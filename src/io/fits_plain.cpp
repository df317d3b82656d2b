#include <algorithm>
#include <vector>

#include "io/fits_pixels.h"

namespace ng::io {
namespace {

// Bytes read at a time: small enough to stay in the second-level cache between reading and decoding.
constexpr std::size_t kChunkBytes = std::size_t{256} << 10;

class PlainFitsPixels final : public FitsPixels {
 public:
  PlainFitsPixels(ByteSource& bytes, const FitsHdu& hdu)
      : bytes_(bytes),
        offset_(hdu.data_offset),
        bitpix_(hdu.bitpix),
        width_(hdu.width),
        height_(hdu.height),
        planes_(hdu.planes),
        scale_(fits_scale(hdu)) {}

  [[nodiscard]] Result<void> read_rows(int plane, int y0, View<float> out) override {
    assert(plane >= 0 && plane < planes_ && y0 >= 0 && y0 + out.height <= height_ && out.width == width_);
    const std::size_t pixel_bytes = static_cast<std::size_t>(std::abs(bitpix_)) / 8;
    const std::size_t row_bytes = pixel_bytes * width_;
    const int rows_at_once = static_cast<int>(std::clamp<std::size_t>(kChunkBytes / row_bytes, 1, out.height + 1));
    buffer_.resize(row_bytes * rows_at_once);
    for (int y = 0; y < out.height; y += rows_at_once) {
      const int rows = std::min(rows_at_once, out.height - y);
      const std::uint64_t row = static_cast<std::uint64_t>(plane) * height_ + y0 + y;
      const auto chunk = std::span(buffer_).first(row_bytes * rows);
      NG_TRY(const std::size_t n, bytes_.read_at(offset_ + row * row_bytes, chunk));
      if (n < chunk.size()) return Error(Code::kCorrupt, "the file is cut off: copy it again from its source");
      for (int i = 0; i < rows; ++i)
        decode_fits_pixels(bitpix_, chunk.data() + row_bytes * i, out.row(y + i), width_, scale_);
    }
    if (plane == planes_ - 1 && y0 + out.height == height_) return bytes_.verify_to_end();
    return {};
  }

 private:
  ByteSource& bytes_;
  std::uint64_t offset_;
  int bitpix_;
  int width_;
  int height_;
  int planes_;
  FitsScale scale_;
  std::vector<std::byte> buffer_;
};

}  // namespace

FitsScale fits_scale(const FitsHdu& hdu) {
  FitsScale scale;
  scale.bzero = hdu.cards.number("BZERO").value_or(0);
  scale.bscale = hdu.cards.number("BSCALE").value_or(1);
  if (hdu.bitpix > 0) scale.blank = hdu.cards.integer("BLANK");
  return scale;
}

std::unique_ptr<FitsPixels> plain_fits_pixels(ByteSource& bytes, const FitsHdu& hdu) {
  return std::make_unique<PlainFitsPixels>(bytes, hdu);
}

}  // namespace ng::io
