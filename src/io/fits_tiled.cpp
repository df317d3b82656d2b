#include <fitsio.h>
#include <fmt/format.h>

#include <array>
#include <limits>
#include <utility>
#include <vector>

#include "io/fits_pixels.h"
#include "io/fits_tile_table.h"
#include "io/system_error.h"

namespace ng::io {
namespace {

// A gzip file with a tiled image inside is unpacked into memory for cfitsio: refused beyond this.
constexpr std::uint64_t kMaxInMemory = std::uint64_t{1} << 30;

class TiledFitsPixels final : public FitsPixels {
 public:
  TiledFitsPixels(std::filesystem::path path, ByteSource& bytes, const FitsHdu& hdu)
      : path_(std::move(path)), bytes_(bytes), hdu_(hdu) {}
  ~TiledFitsPixels() override {
    int status = 0;
    if (file_ != nullptr) fits_close_file(file_, &status);
  }
  TiledFitsPixels(const TiledFitsPixels&) = delete;
  TiledFitsPixels& operator=(const TiledFitsPixels&) = delete;

  [[nodiscard]] Result<void> read_rows(int plane, int y0, View<float> out) override {
    assert(plane >= 0 && plane < hdu_.planes && y0 >= 0 && y0 + out.height <= hdu_.height && out.width == hdu_.width);
    if (file_ == nullptr) NG_CHECK(open());
    if (out.height == 0) return {};
    const bool dense = out.stride == out.width || out.height == 1;
    std::vector<float> rows(dense ? 0 : static_cast<std::size_t>(out.width) * out.height);
    float* const target = dense ? out.data : rows.data();
    std::array<long, 3> first{1, y0 + 1L, plane + 1L};
    std::array<long, 3> last{hdu_.width, y0 + out.height, plane + 1L};
    std::array<long, 3> step{1, 1, 1};
    float undefined = std::numeric_limits<float>::quiet_NaN();
    int any_undefined = 0;
    int status = 0;
    fits_read_subset(file_, TFLOAT, first.data(), last.data(), step.data(), &undefined, target, &any_undefined,
                     &status);
    if (status != 0) return damaged(status);
    if (!dense)
      for (int y = 0; y < out.height; ++y) std::copy_n(target + std::size_t{1} * y * out.width, out.width, out.row(y));
    return {};
  }

 private:
  [[nodiscard]] static Error damaged(int status) {
    std::array<char, FLEN_STATUS> text{};
    fits_get_errstatus(status, text.data());
    fits_clear_errmsg();
    return {Code::kCorrupt, fmt::format("the compressed pixels cannot be unpacked ({})", text.data())};
  }

  [[nodiscard]] Result<void> open() {
    NG_CHECK(check_tile_table(bytes_, hdu_));
    int status = 0;
    if (bytes_.compressed()) {
      NG_CHECK(load());
      memory_address_ = memory_.data();
      memory_size_ = memory_.size();
      fits_open_memfile(&file_, "frame", READONLY, &memory_address_, &memory_size_, 0, nullptr, &status);
    } else {
      // "diskfile": brackets and other marks in a file name are part of the name, nothing else.
      const std::string name = std::filesystem::absolute(path_).string();
      if (name.size() >= FLEN_FILENAME)
        return Error(Code::kUnsupported, "the path is too long for reading compressed FITS: move the file up");
      fits_open_diskfile(&file_, name.c_str(), READONLY, &status);
    }
    if (status == 0) fits_movabs_hdu(file_, hdu_.index + 1, nullptr, &status);
    if (status == 0) NG_CHECK(check_agreement(status));
    if (status == 0) return {};
    Error error = damaged(status);
    close();
    return error;
  }

  // cfitsio must see the same image as we do: it parsed the header by itself.
  [[nodiscard]] Result<void> check_agreement(int& status) {
    int bitpix = 0;
    int naxis = 0;
    std::array<long, 3> axes{1, 1, 1};
    fits_get_img_param(file_, 3, &bitpix, &naxis, axes.data(), &status);
    const bool same = naxis <= 3 && axes[0] == hdu_.width && axes[1] == hdu_.height && axes[2] == hdu_.planes;
    if (status != 0 || same) return {};
    close();
    return Error(Code::kCorrupt, "the header of the compressed image contradicts itself");
  }

  void close() {
    int status = 0;
    if (file_ != nullptr) fits_close_file(file_, &status);
    file_ = nullptr;
  }

  [[nodiscard]] Result<void> load() {
    const std::uint64_t end = (hdu_.data_offset + hdu_.data_bytes + kBlockBytes - 1) / kBlockBytes * kBlockBytes;
    if (end > kMaxInMemory)
      return Error(Code::kUnsupported,
                   "a tile-compressed image this large inside gzip is not read: unpack the gzip first");
    memory_.resize(end);
    NG_TRY(const std::size_t n, bytes_.read_at(0, memory_));
    if (n < hdu_.data_offset + hdu_.data_bytes)
      return Error(Code::kCorrupt, "the file is cut off: copy it again from its source");
    return bytes_.verify_to_end();
  }

  std::filesystem::path path_;
  ByteSource& bytes_;
  FitsHdu hdu_;
  fitsfile* file_ = nullptr;
  std::vector<std::byte> memory_;
  void* memory_address_ = nullptr;
  std::size_t memory_size_ = 0;
};

}  // namespace

std::unique_ptr<FitsPixels> tiled_fits_pixels(const std::filesystem::path& path, ByteSource& bytes,
                                              const FitsHdu& hdu) {
  return std::make_unique<TiledFitsPixels>(path, bytes, hdu);
}

}  // namespace ng::io
