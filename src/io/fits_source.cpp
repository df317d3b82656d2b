#include "io/fits_source.h"

#include <limits>
#include <utility>
#include <vector>

#include "io/fits_facts.h"
#include "io/fits_pixels.h"

namespace ng::io {
namespace {

class FitsSource final : public FrameSource {
 public:
  FitsSource(const std::filesystem::path& path, std::unique_ptr<ByteSource> bytes, const FitsLayout& layout)
      : path_(path), bytes_(std::move(bytes)), facts_(fits_facts(layout, path)), image_(pixels(layout.image)) {
    if (layout.mask) mask_ = pixels(*layout.mask);
  }

  [[nodiscard]] const FrameFacts& facts() const override { return facts_; }

  [[nodiscard]] Result<void> read_rows(int plane, int y0, View<float> out) override {
    NG_CHECK(image_->read_rows(plane, y0, out).in(path_.string()));
    if (!mask_) return {};
    Image<float> bad(out.width, out.height);
    NG_CHECK(mask_->read_rows(0, y0, bad.plane()).in("bad-pixel mask").in(path_.string()));
    for (int y = 0; y < out.height; ++y) {
      const float* flags = bad.plane().row(y);
      float* row = out.row(y);
      for (int x = 0; x < out.width; ++x) row[x] = flags[x] == 0 ? row[x] : std::numeric_limits<float>::quiet_NaN();
    }
    return {};
  }

  void keep_open(bool wanted) override { bytes_->keep_open(wanted); }

 private:
  [[nodiscard]] std::unique_ptr<FitsPixels> pixels(const FitsHdu& hdu) {
    return hdu.kind == HduKind::kTiledImage ? tiled_fits_pixels(*bytes_, hdu) : plain_fits_pixels(*bytes_, hdu);
  }

  std::filesystem::path path_;
  std::unique_ptr<ByteSource> bytes_;
  FrameFacts facts_;
  std::unique_ptr<FitsPixels> image_;
  std::unique_ptr<FitsPixels> mask_;
};

}  // namespace

Result<std::unique_ptr<FrameSource>> open_fits(const std::filesystem::path& path, std::unique_ptr<ByteSource> bytes) {
  NG_TRY(const FitsLayout layout, read_fits_layout(*bytes));
  return std::unique_ptr<FrameSource>(std::make_unique<FitsSource>(path, std::move(bytes), layout));
}

Result<std::unique_ptr<FrameSource>> open_fits_image(const std::filesystem::path& path,
                                                     const std::string& extension_name) {
  NG_TRY(auto bytes, open_bytes(path));
  auto layout = read_fits_layout_of(*bytes, extension_name);
  if (!layout.ok()) return std::move(layout).error().in(path.string());
  return std::unique_ptr<FrameSource>(std::make_unique<FitsSource>(path, std::move(bytes), *layout));
}

}  // namespace ng::io
