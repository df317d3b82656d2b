#include "io/raw_source.h"

#include <libraw/libraw.h>

#include <algorithm>
#include <optional>
#include <utility>
#include <vector>

#include "io/raw_facts.h"
#include "io/scratch_file.h"

namespace ng::io {
namespace {

// The visible area of the unpacked sensor, 16-bit rows one after another.
Result<ScratchFile> unpack(LibRaw& raw) {
  if (const int code = raw.unpack(); code != LIBRAW_SUCCESS) return raw_error(code);
  if (raw.error_count() > 0) return raw_error(LIBRAW_DATA_ERROR);
  const auto& data = raw.imgdata;
  if (data.rawdata.raw_image == nullptr)
    return Error(Code::kUnsupported, "this raw file is demosaiced already: convert it to TIFF");
  const auto& s = data.sizes;
  if (s.left_margin + s.width > s.raw_width || s.top_margin + s.height > s.raw_height)
    return raw_error(LIBRAW_DATA_ERROR);
  NG_TRY(ScratchFile scratch, ScratchFile::create());
  const std::size_t pitch = s.raw_pitch / sizeof(std::uint16_t);
  for (std::size_t y = 0; y < s.height; ++y) {
    const std::span row(data.rawdata.raw_image + (s.top_margin + y) * pitch + s.left_margin, s.width);
    NG_CHECK(scratch.write_at(y * row.size_bytes(), std::as_bytes(row)));
  }
  return scratch;
}

std::unique_ptr<LibRaw> new_decoder() {
  // Without its own messages on standard error; failures come back as codes.
  return std::make_unique<LibRaw>(LIBRAW_OPIONS_NO_MEMERR_CALLBACK | LIBRAW_OPIONS_NO_DATAERR_CALLBACK);
}

class RawSource final : public FrameSource {
 public:
  explicit RawSource(std::filesystem::path path) : path_(std::move(path)) {}

  [[nodiscard]] Result<void> open() {
    const auto raw = new_decoder();
    if (const int code = raw->open_file(path_.c_str()); code != LIBRAW_SUCCESS) return raw_error(code);
    NG_TRY(facts_, raw_facts(*raw, path_));
    // No black level in the file: some makers leave it to the masked pixels, which are known after unpacking.
    if (facts_.black_level_adu != 0.0) return {};
    NG_TRY(pixels_, unpack(*raw));
    NG_TRY(facts_, raw_facts(*raw, path_));
    return {};
  }

  [[nodiscard]] const FrameFacts& facts() const override { return facts_; }

  [[nodiscard]] Result<void> read_rows([[maybe_unused]] int plane, int y0, View<float> out) override {
    assert(plane == 0 && y0 >= 0 && y0 + out.height <= facts_.height && out.width == facts_.width);
    if (!pixels_) NG_CHECK(load().in(path_.string()));
    row_.resize(static_cast<std::size_t>(out.width));
    const std::span bytes = std::as_writable_bytes(std::span(row_));
    for (int y = 0; y < out.height; ++y) {
      NG_CHECK(pixels_->read_at(static_cast<std::uint64_t>(y0 + y) * bytes.size(), bytes).in(path_.string()));
      std::copy(row_.begin(), row_.end(), out.row(y));
    }
    return {};
  }

 private:
  [[nodiscard]] Result<void> load() {
    const auto raw = new_decoder();
    if (const int code = raw->open_file(path_.c_str()); code != LIBRAW_SUCCESS) return raw_error(code);
    if (raw->imgdata.sizes.width != facts_.width || raw->imgdata.sizes.height != facts_.height)
      return Error(Code::kCorrupt, "the file was changed while it was in use");
    NG_TRY(pixels_, unpack(*raw));
    return {};
  }

  std::filesystem::path path_;
  FrameFacts facts_;
  std::optional<ScratchFile> pixels_;
  std::vector<std::uint16_t> row_;
};

}  // namespace

Result<std::unique_ptr<FrameSource>> open_raw(const std::filesystem::path& path) {
  auto source = std::make_unique<RawSource>(path);
  NG_CHECK(source->open());
  return std::unique_ptr<FrameSource>(std::move(source));
}

}  // namespace ng::io
