#include <fmt/format.h>
#include <png.h>

#include <array>
#include <bit>
#include <csetjmp>
#include <optional>
#include <utility>
#include <vector>

#include "io/picture_source.h"
#include "io/scratch_file.h"

namespace ng::io {
namespace {

// One pass through a PNG: libpng pulls bytes from a source and leaves by longjmp when it meets an error.
class PngReader {
 public:
  explicit PngReader(ByteSource& bytes) : bytes_(bytes) {
    png_ = png_create_read_struct(PNG_LIBPNG_VER_STRING, this, on_error, on_warning);
    info_ = png_ != nullptr ? png_create_info_struct(png_) : nullptr;
    if (info_ != nullptr) png_set_read_fn(png_, this, read_bytes);
  }
  ~PngReader() { png_destroy_read_struct(&png_, &info_, nullptr); }
  PngReader(const PngReader&) = delete;
  PngReader& operator=(const PngReader&) = delete;

  // Neither of these owns anything while libpng may jump.
  [[nodiscard]] bool read_header() {
    if (info_ == nullptr || setjmp(png_jmpbuf(png_)) != 0) return false;
    png_read_info(png_, info_);
    return true;
  }
  [[nodiscard]] bool read_pixels(png_bytepp rows) {
    if (info_ == nullptr || setjmp(png_jmpbuf(png_)) != 0) return false;
    if (bits() == 16 && std::endian::native == std::endian::little) png_set_swap(png_);
    png_set_strip_alpha(png_);
    png_set_interlace_handling(png_);
    png_read_update_info(png_, info_);
    png_read_image(png_, rows);
    png_read_end(png_, nullptr);
    return true;
  }

  [[nodiscard]] std::uint32_t width() const { return png_get_image_width(png_, info_); }
  [[nodiscard]] std::uint32_t height() const { return png_get_image_height(png_, info_); }
  [[nodiscard]] int bits() const { return png_get_bit_depth(png_, info_); }
  [[nodiscard]] int colour_type() const { return png_get_color_type(png_, info_); }
  [[nodiscard]] Error error() {
    return disk_error_ ? std::move(*disk_error_)
                       : Error(Code::kCorrupt, fmt::format("the PNG is cut off or damaged ({})", message_.data()));
  }

 private:
  static void read_bytes(png_structp png, png_bytep data, png_size_t size) {
    auto& self = *static_cast<PngReader*>(png_get_io_ptr(png));
    if (!self.fill(std::as_writable_bytes(std::span(data, size)))) png_error(png, "the data end too early");
  }
  [[nodiscard]] bool fill(std::span<std::byte> out) {
    auto n = bytes_.read_at(offset_, out);
    if (!n.ok()) disk_error_ = std::move(n).error();
    offset_ += out.size();
    return n.ok() && *n == out.size();
  }
  static void on_error(png_structp png, png_const_charp message) {
    auto& self = *static_cast<PngReader*>(png_get_error_ptr(png));
    fmt::format_to_n(self.message_.data(), self.message_.size() - 1, "{}", message);
    png_longjmp(png, 1);
  }
  static void on_warning(png_structp, png_const_charp) {}

  ByteSource& bytes_;
  std::uint64_t offset_ = 0;
  std::optional<Error> disk_error_;
  std::array<char, 128> message_{};
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
};

class PngSource final : public FrameSource {
 public:
  PngSource(std::filesystem::path path, std::unique_ptr<ByteSource> bytes)
      : path_(std::move(path)), bytes_(std::move(bytes)) {}

  [[nodiscard]] Result<void> open() {
    PngReader reader(*bytes_);
    if (!reader.read_header()) return reader.error();
    const int type = reader.colour_type();
    bits_ = reader.bits();
    if ((type & PNG_COLOR_MASK_PALETTE) != 0 || bits_ < 8)
      return Error(Code::kUnsupported, "a PNG with a palette or fewer than 8 bits is no frame");
    const int planes = (type & PNG_COLOR_MASK_COLOR) != 0 ? 3 : 1;
    NG_TRY(facts_, picture_facts(path_, reader.width(), reader.height(), planes, bytes_->size().value_or(0)));
    if ((type & PNG_COLOR_MASK_ALPHA) != 0) facts_.warnings.emplace_back("the transparency of the PNG is left out");
    facts_.warnings.emplace_back("PNG values usually follow a display curve: brightness is linear only if they do not");
    return {};
  }

  [[nodiscard]] const FrameFacts& facts() const override { return facts_; }

  [[nodiscard]] Result<void> read_rows(int plane, int y0, View<float> out) override {
    if (!pixels_) NG_CHECK(unpack().in(path_.string()));
    const auto planes = static_cast<std::size_t>(facts_.planes);
    std::vector<std::uint16_t> row((row_bytes() + 1) / 2);
    const auto* row8 = reinterpret_cast<const std::uint8_t*>(row.data());
    for (int y = 0; y < out.height; ++y) {
      const auto bytes = std::as_writable_bytes(std::span(row)).first(row_bytes());
      NG_CHECK(pixels_->read_at(row_bytes() * static_cast<std::uint64_t>(y0 + y), bytes).in(path_.string()));
      for (int x = 0; x < out.width; ++x) {
        const std::size_t at = x * planes + plane;
        out.row(y)[x] = static_cast<float>(bits_ == 16 ? row[at] : row8[at]);
      }
    }
    return {};
  }

 private:
  [[nodiscard]] std::size_t row_bytes() const {
    return static_cast<std::size_t>(facts_.width) * facts_.planes * bits_ / 8;
  }
  [[nodiscard]] Result<void> unpack() {
    std::vector<unsigned char> pixels(row_bytes() * facts_.height);
    std::vector<png_bytep> rows(static_cast<std::size_t>(facts_.height));
    for (std::size_t y = 0; y < rows.size(); ++y) rows[y] = pixels.data() + row_bytes() * y;
    PngReader reader(*bytes_);
    if (!reader.read_header() || !reader.read_pixels(rows.data())) return reader.error();
    NG_TRY(ScratchFile scratch, ScratchFile::create());
    NG_CHECK(scratch.write_at(0, std::as_bytes(std::span(pixels))));
    pixels_ = std::move(scratch);
    return {};
  }

  std::filesystem::path path_;
  std::unique_ptr<ByteSource> bytes_;
  FrameFacts facts_;
  int bits_ = 8;
  std::optional<ScratchFile> pixels_;  // rows of interleaved samples in the order of this machine
};

}  // namespace

Result<std::unique_ptr<FrameSource>> open_png(const std::filesystem::path& path, std::unique_ptr<ByteSource> bytes) {
  auto source = std::make_unique<PngSource>(path, std::move(bytes));
  NG_CHECK(source->open());
  return std::unique_ptr<FrameSource>(std::move(source));
}

}  // namespace ng::io
