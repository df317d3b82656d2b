#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <utility>
#include <vector>

#include "io/picture_source.h"
#include "io/tiff_stream.h"

namespace ng::io {
namespace {

struct TiffLayout {
  std::uint32_t width = 0;
  std::uint32_t height = 0;
  std::uint16_t bits = 1;
  std::uint16_t format = SAMPLEFORMAT_UINT;
  std::uint16_t samples = 1;
  std::uint16_t planar = PLANARCONFIG_CONTIG;
  std::uint16_t photometric = PHOTOMETRIC_MINISBLACK;
  bool tiled = false;
  std::uint32_t block_width = 0;   // of a tile; a strip is as wide as the image
  std::uint32_t block_height = 0;  // rows of a strip or tile

  [[nodiscard]] bool separate() const { return planar == PLANARCONFIG_SEPARATE; }
  [[nodiscard]] int samples_in_block() const { return separate() ? 1 : samples; }
};

TiffLayout read_layout(TIFF* tiff) {
  TiffLayout l;
  TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &l.width);
  TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &l.height);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_BITSPERSAMPLE, &l.bits);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLEFORMAT, &l.format);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLESPERPIXEL, &l.samples);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_PLANARCONFIG, &l.planar);
  TIFFGetField(tiff, TIFFTAG_PHOTOMETRIC, &l.photometric);
  l.tiled = TIFFIsTiled(tiff) != 0;
  l.block_width = l.width;
  if (l.tiled) {
    TIFFGetField(tiff, TIFFTAG_TILEWIDTH, &l.block_width);
    TIFFGetField(tiff, TIFFTAG_TILELENGTH, &l.block_height);
  } else {
    TIFFGetFieldDefaulted(tiff, TIFFTAG_ROWSPERSTRIP, &l.block_height);
    l.block_height = std::min(l.block_height, l.height);
  }
  return l;
}

Result<void> check(const TiffLayout& l) {
  const bool grey = l.photometric == PHOTOMETRIC_MINISBLACK || l.photometric == PHOTOMETRIC_MINISWHITE;
  if (!grey && l.photometric != PHOTOMETRIC_RGB)
    return Error(Code::kUnsupported, "this TIFF is neither grey nor RGB: save it as one of these");
  if (l.samples < (grey ? 1 : 3)) return Error(Code::kCorrupt, "the TIFF has fewer samples than its colours need");
  const bool integer = l.format == SAMPLEFORMAT_UINT && (l.bits == 8 || l.bits == 16 || l.bits == 32);
  const bool real = l.format == SAMPLEFORMAT_IEEEFP && (l.bits == 32 || l.bits == 64);
  if (!integer && !real)
    return Error(Code::kUnsupported, fmt::format("TIFF samples of {} bits and this format are not read: 8-, 16- or "
                                                 "32-bit integers and 32- or 64-bit floats are",
                                                 l.bits));
  if (l.block_width == 0 || l.block_height == 0) return Error(Code::kCorrupt, "the TIFF has no valid strips or tiles");
  return {};
}

// `step` samples from one value to the next; libtiff has put the bytes in the order of this machine.
template <typename T>
void convert(const std::byte* in, std::size_t step, float* out, std::size_t n) {
  for (std::size_t i = 0; i < n; ++i) {
    T value;
    std::memcpy(&value, in + i * step * sizeof(T), sizeof(T));
    out[i] = static_cast<float>(value);
  }
}

class TiffSource final : public FrameSource {
 public:
  TiffSource(std::filesystem::path path, std::unique_ptr<ByteSource> bytes)
      : path_(std::move(path)), bytes_(std::move(bytes)), stream_(*bytes_) {}

  [[nodiscard]] Result<void> open() {
    tiff_ = stream_.open("rm");
    if (!tiff_) return stream_.error(Code::kCorrupt, "this TIFF cannot be opened");
    layout_ = read_layout(tiff_.get());
    NG_CHECK(check(layout_));
    const int planes = layout_.photometric == PHOTOMETRIC_RGB ? 3 : 1;
    NG_TRY(facts_, picture_facts(path_, layout_.width, layout_.height, planes, bytes_->size().value_or(0)));
    if (layout_.samples > planes)
      facts_.warnings.push_back(
          fmt::format("{} samples per pixel beyond the colours are left out", layout_.samples - planes));
    std::uint32_t size = 0;
    void* profile = nullptr;
    if (TIFFGetField(tiff_.get(), TIFFTAG_ICCPROFILE, &size, &profile) == 1 || layout_.bits == 8)
      facts_.warnings.emplace_back("the values may follow a display curve: brightness is linear only if they do not");
    return {};
  }

  [[nodiscard]] const FrameFacts& facts() const override { return facts_; }

  [[nodiscard]] Result<void> read_rows(int plane, int y0, View<float> out) override {
    for (int y = 0; y < out.height; ++y) {
      const auto file_row = static_cast<std::uint32_t>(y0 + y);
      NG_CHECK(load(plane, file_row / layout_.block_height).in(path_.string()));
      copy_row(plane, file_row % layout_.block_height, out.row(y));
    }
    return {};
  }

 private:
  // Makes the strip, or the row of tiles, with number `band` current.
  [[nodiscard]] Result<void> load(int plane, std::uint32_t band) {
    const int kept_plane = layout_.separate() ? plane : 0;
    if (band == band_ && kept_plane == band_plane_) return {};
    band_plane_ = -1;
    const auto sample = static_cast<std::uint16_t>(kept_plane);
    const std::uint32_t first_row = band * layout_.block_height;
    const tmsize_t block = layout_.tiled ? TIFFTileSize(tiff_.get()) : TIFFStripSize(tiff_.get());
    const std::uint32_t across = (layout_.width + layout_.block_width - 1) / layout_.block_width;
    const std::size_t row_bytes = std::size_t{layout_.block_width} * layout_.samples_in_block() * layout_.bits / 8;
    if (block <= 0 || static_cast<std::size_t>(block) < row_bytes * layout_.block_height)
      return Error(Code::kCorrupt, "the TIFF has no valid strips or tiles");
    block_bytes_ = static_cast<std::size_t>(block);
    buffer_.resize(block_bytes_ * across);
    for (std::uint32_t i = 0; i < across; ++i) {
      std::byte* const to = buffer_.data() + block_bytes_ * i;
      const std::uint32_t rows = std::min(layout_.block_height, layout_.height - first_row);
      const tmsize_t need = static_cast<tmsize_t>(row_bytes * rows);
      const tmsize_t got =
          layout_.tiled
              ? TIFFReadTile(tiff_.get(), to, i * layout_.block_width, first_row, 0, sample)
              : TIFFReadEncodedStrip(tiff_.get(), TIFFComputeStrip(tiff_.get(), first_row, sample), to, block);
      if (got < need)
        return stream_.error(Code::kCorrupt, "the TIFF is cut off or damaged: copy it again from its source");
    }
    band_ = band;
    band_plane_ = kept_plane;
    return {};
  }

  void copy_row(int plane, std::uint32_t row_in_block, float* out) const {
    const auto step = static_cast<std::size_t>(layout_.samples_in_block());
    const std::size_t sample_bytes = layout_.bits / 8;
    const std::size_t first = layout_.separate() ? 0 : static_cast<std::size_t>(plane);
    for (std::uint32_t x = 0; x < layout_.width; x += layout_.block_width) {
      const std::size_t n = std::min(layout_.block_width, layout_.width - x);
      const std::byte* in = buffer_.data() + block_bytes_ * (x / layout_.block_width) +
                            (std::size_t{row_in_block} * layout_.block_width * step + first) * sample_bytes;
      convert_samples(in, step, out + x, n);
    }
    if (layout_.photometric == PHOTOMETRIC_MINISWHITE && layout_.format == SAMPLEFORMAT_UINT) {
      const double white = std::pow(2.0, layout_.bits) - 1;
      for (std::uint32_t x = 0; x < layout_.width; ++x)
        out[x] = static_cast<float>(white - static_cast<double>(out[x]));
    }
  }

  void convert_samples(const std::byte* in, std::size_t step, float* out, std::size_t n) const {
    if (layout_.format == SAMPLEFORMAT_IEEEFP)
      return layout_.bits == 32 ? convert<float>(in, step, out, n) : convert<double>(in, step, out, n);
    if (layout_.bits == 8) return convert<std::uint8_t>(in, step, out, n);
    if (layout_.bits == 16) return convert<std::uint16_t>(in, step, out, n);
    convert<std::uint32_t>(in, step, out, n);
  }

  std::filesystem::path path_;
  std::unique_ptr<ByteSource> bytes_;
  TiffStream stream_;
  TiffStream::Handle tiff_;
  TiffLayout layout_;
  FrameFacts facts_;
  std::vector<std::byte> buffer_;
  std::size_t block_bytes_ = 0;
  std::uint32_t band_ = 0;
  int band_plane_ = -1;  // none
};

}  // namespace

Result<std::unique_ptr<FrameSource>> open_tiff(const std::filesystem::path& path, std::unique_ptr<ByteSource> bytes) {
  auto source = std::make_unique<TiffSource>(path, std::move(bytes));
  NG_CHECK(source->open());
  return std::unique_ptr<FrameSource>(std::move(source));
}

}  // namespace ng::io
