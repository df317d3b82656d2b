#include "io/picture_writer.h"

#include <fmt/format.h>

#include "io/fits_card.h"
#include "io/picture_formats.h"
#include "io/system_error.h"

namespace ng::io {
namespace {

Result<void> check(PicturePlanes planes, const PictureOptions& options) {
  if (planes.size() != 1 && planes.size() != 3)
    return Error(Code::kInvalidInput, fmt::format("a picture has one plane or three, not {}", planes.size()));
  for (const auto& plane : planes)
    if (plane.empty() || plane.width != planes[0].width || plane.height != planes[0].height)
      return Error(Code::kInvalidInput, "the planes of a picture must have pixels, and the same size");
  if (options.bits != 8 && options.bits != 16)
    return Error(Code::kInvalidInput, fmt::format("a picture has 8 or 16 bits, not {}", options.bits));
  if (options.jpeg_quality < 1 || options.jpeg_quality > 100)
    return Error(Code::kInvalidInput, fmt::format("JPEG quality goes from 1 to 100, not {}", options.jpeg_quality));
  return {};
}

}  // namespace

Result<void> write_picture(const std::filesystem::path& path, PicturePlanes planes, const PictureOptions& options) {
  NG_CHECK(check(planes, options));
  const std::string extension = lower(path.extension().string());
  auto* const write = extension == ".png"                           ? write_png
                      : extension == ".tif" || extension == ".tiff" ? write_tiff
                      : extension == ".jpg" || extension == ".jpeg" ? write_jpeg
                                                                    : nullptr;
  if (write == nullptr)
    return Error(Code::kUnsupported, fmt::format("cannot write {}: pictures are .png, .tif or .jpg", quoted(path)));
  NG_TRY(AtomicFile file, AtomicFile::create(path, options.overwrite));
  NG_CHECK(write(file, planes, options));
  return file.commit();
}

void interleave_row(PicturePlanes planes, int y, std::uint16_t* out) {
  const std::size_t step = planes.size();
  for (std::size_t p = 0; p < step; ++p) {
    const std::uint16_t* row = planes[p].row(y);
    for (int x = 0; x < planes[p].width; ++x) out[x * step + p] = row[x];
  }
}

void interleave_row(PicturePlanes planes, int y, std::uint8_t* out) {
  const std::size_t step = planes.size();
  for (std::size_t p = 0; p < step; ++p) {
    const std::uint16_t* row = planes[p].row(y);
    for (int x = 0; x < planes[p].width; ++x) out[x * step + p] = static_cast<std::uint8_t>((row[x] + 128) / 257);
  }
}

}  // namespace ng::io
