#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>
#include <vector>

#include "io/fits_pixels.h"
#include "io/fits_tile_table.h"
#include "io/tile_codes.h"
#include "io/tile_dither.h"

namespace ng::io {
namespace {

class TiledFitsPixels final : public FitsPixels {
 public:
  TiledFitsPixels(ByteSource& bytes, const FitsHdu& hdu)
      : bytes_(bytes), hdu_(hdu), real_(hdu.bitpix < 0), scale_(fits_scale(hdu)) {
    const auto blank = hdu.cards.integer("ZBLANK");
    if (blank) scale_.blank = blank;
    const std::string method = upper(hdu.cards.text("ZQUANTIZ").value_or(""));
    dither_ = method == "SUBTRACTIVE_DITHER_1"   ? Dither::kSubtractive
              : method == "SUBTRACTIVE_DITHER_2" ? Dither::kSubtractiveKeepingZero
                                                 : Dither::kNone;
    seed_ = hdu.cards.integer("ZDITHER0").value_or(1);
  }

  [[nodiscard]] Result<void> read_rows(int plane, int y0, View<float> out) override {
    assert(plane >= 0 && plane < hdu_.planes && y0 >= 0 && y0 + out.height <= hdu_.height && out.width == hdu_.width);
    if (!table_) {
      NG_TRY(table_, read_tile_table(bytes_, hdu_));
    }
    const int tile_rows = table_->tile[1];
    for (int y = 0; y < out.height; ++y) {
      NG_CHECK(load(plane, (y0 + y) / tile_rows));
      std::copy_n(band_.plane().row((y0 + y) % tile_rows), out.width, out.row(y));
    }
    if (plane == hdu_.planes - 1 && y0 + out.height == hdu_.height) return bytes_.verify_to_end();
    return {};
  }

 private:
  // Unpacks one row of tiles of a plane, unless it is the one that is there.
  [[nodiscard]] Result<void> load(int plane, int band) {
    if (plane == band_plane_ && band == band_index_) return {};
    band_plane_ = -1;
    const TileTable& t = *table_;
    if (band_.empty()) band_ = Image<float>(t.image[0], t.tile[1]);
    const int z = plane / t.tile[2];
    const int height = std::min(t.tile[1], t.image[1] - band * t.tile[1]);
    const int depth = std::min(t.tile[2], t.image[2] - z * t.tile[2]);
    for (int i = 0; i < t.count[0]; ++i) {
      const int x0 = i * t.tile[0];
      const int width = std::min(t.tile[0], t.image[0] - x0);
      const std::int64_t index = (std::int64_t{z} * t.count[1] + band) * t.count[0] + i;
      values_.resize(static_cast<std::size_t>(width) * height * depth);
      auto done = unpack(index);
      if (!done.ok()) return std::move(done).error().in(fmt::format("tile {}", index + 1));
      const float* from = values_.data() + static_cast<std::size_t>(width) * height * (plane % t.tile[2]);
      for (int y = 0; y < height; ++y) std::copy_n(from + std::size_t{1} * y * width, width, band_.plane().row(y) + x0);
    }
    band_plane_ = plane;
    band_index_ = band;
    return {};
  }

  // One tile into values_, physical.
  [[nodiscard]] Result<void> unpack(std::int64_t index) {
    const TileTable& t = *table_;
    const TileTable::Place packed = t.packed ? t.place(*t.packed, index) : TileTable::Place{};
    if (packed.bytes > 0) {
      NG_CHECK(fetch(packed));
      return unpack_coded(index);
    }
    const TileTable::Place gzip = t.packed_gzip ? t.place(*t.packed_gzip, index) : TileTable::Place{};
    if (gzip.bytes > 0) {
      NG_CHECK(fetch(gzip));
      NG_TRY(const auto bytes, unpack_gzip(code_, values_.size() * 8));
      return take_stored(bytes, stored_type(bytes.size()));
    }
    NG_CHECK(fetch(t.place(*t.unpacked, index)));
    return take_stored(code_, t.unpacked->element);
  }

  [[nodiscard]] Result<void> unpack_coded(std::int64_t index) {
    const TileTable& t = *table_;
    if (t.code == TileCode::kNone) return take_stored(code_, t.packed->element);
    if (t.code == TileCode::kGzip || t.code == TileCode::kGzipShuffled) {
      NG_TRY(auto bytes, unpack_gzip(code_, values_.size() * 8));
      if (bytes.size() % values_.size() != 0) return wrong_length();
      if (t.code == TileCode::kGzipShuffled) bytes = unshuffle(bytes, bytes.size() / values_.size());
      const bool quantized = real_ && t.scale_at.has_value();
      if (!quantized) return take_stored(bytes, stored_type(bytes.size()));
      if (bytes.size() != 4 * values_.size()) return wrong_length();
      integers_.resize(values_.size());
      for (std::size_t i = 0; i < integers_.size(); ++i)
        integers_[i] = static_cast<std::int32_t>(load_big_endian<std::uint32_t>(bytes.data(), i));
    } else {
      integers_.resize(values_.size());
      NG_CHECK(t.code == TileCode::kRice ? unpack_rice(code_, t.rice_bytes, t.rice_block, integers_)
                                         : unpack_plio(code_, integers_));
    }
    return take_integers(index);
  }

  // integers_ into values_: quantized floats, or integers with BZERO, BSCALE and BLANK.
  [[nodiscard]] Result<void> take_integers(std::int64_t index) {
    const TileTable& t = *table_;
    Quantization q{scale_.bscale, scale_.bzero, Dither::kNone, seed_, scale_.blank};
    if (t.blank_at) q.blank = static_cast<std::int64_t>(t.number(*t.blank_at, t.blank_type, index));
    if (real_) {
      q.scale = t.scale_at ? t.number(*t.scale_at, t.scale_type, index) : hdu_.cards.number("ZSCALE").value_or(1);
      q.zero = t.zero_at ? t.number(*t.zero_at, t.zero_type, index) : hdu_.cards.number("ZZERO").value_or(0);
      q.dither = dither_;
    }
    dequantize(integers_, q, index, values_.data());
    if (real_) rescale();
    return {};
  }

  // Bytes of a tile as FITS stores pixels, of a column type.
  [[nodiscard]] Result<void> take_stored(std::span<const std::byte> bytes, char type) {
    const int bitpix = type == 'B'   ? 8
                       : type == 'I' ? 16
                       : type == 'J' ? 32
                       : type == 'K' ? 64
                       : type == 'E' ? -32
                       : type == 'D' ? -64
                                     : 0;
    if (bitpix == 0 || bytes.size() != values_.size() * static_cast<std::size_t>(std::abs(bitpix)) / 8)
      return wrong_length();
    decode_fits_pixels(bitpix, bytes.data(), values_.data(), values_.size(), scale_);
    return {};
  }

  [[nodiscard]] char stored_type(std::size_t bytes) const {
    switch (bytes / values_.size()) {
      case 1:
        return 'B';
      case 2:
        return 'I';
      case 4:
        return real_ ? 'E' : 'J';
      default:
        return real_ ? 'D' : 'K';
    }
  }

  // BSCALE and BZERO on top of quantized floats: allowed, and nearly always 1 and 0.
  void rescale() {
    if (scale_.identity()) return;
    for (float& v : values_) v = static_cast<float>(scale_.bzero + scale_.bscale * static_cast<double>(v));
  }

  [[nodiscard]] static Error wrong_length() {
    return {Code::kCorrupt, "the number of pixels is wrong: the file is damaged"};
  }

  [[nodiscard]] Result<void> fetch(const TileTable::Place& place) {
    code_.resize(place.bytes);
    NG_TRY(const std::size_t n, bytes_.read_at(place.offset, code_));
    if (n < code_.size()) return Error(Code::kCorrupt, "the file is cut off: copy it again from its source");
    return {};
  }

  ByteSource& bytes_;
  FitsHdu hdu_;
  bool real_;
  FitsScale scale_;
  Dither dither_ = Dither::kNone;
  std::int64_t seed_ = 1;
  std::optional<TileTable> table_;  // read with the first rows
  Image<float> band_;               // one row of tiles
  int band_plane_ = -1;             // none
  int band_index_ = 0;
  std::vector<std::byte> code_;
  std::vector<std::int32_t> integers_;
  std::vector<float> values_;
};

}  // namespace

std::unique_ptr<FitsPixels> tiled_fits_pixels(ByteSource& bytes, const FitsHdu& hdu) {
  return std::make_unique<TiledFitsPixels>(bytes, hdu);
}

}  // namespace ng::io
