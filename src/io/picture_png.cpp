#include <fmt/format.h>
#include <png.h>

#include <array>
#include <bit>
#include <csetjmp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "io/icc_profile.h"
#include "io/picture_formats.h"

namespace ng::io {
namespace {

// Higher levels save little on noisy skies and take far longer.
constexpr int kCompression = 3, kDrawingCompression = 2;

struct Sink {
  AtomicFile& file;
  std::uint64_t offset = 0;
  std::optional<Error> error;
};

void write_bytes(png_structp png, png_bytep data, png_size_t size) {
  auto& sink = *static_cast<Sink*>(png_get_io_ptr(png));
  auto written = sink.file.write_at(sink.offset, std::as_bytes(std::span(data, size)));
  sink.offset += size;
  if (written.ok()) return;
  sink.error = std::move(written).error();
  png_error(png, "write");
}
void flush_bytes(png_structp) {}

void on_error(png_structp png, png_const_charp message) {
  auto& sink = *static_cast<Sink*>(png_get_error_ptr(png));
  if (!sink.error) sink.error = Error(Code::kIo, fmt::format("the PNG library refused the picture: {}", message));
  png_longjmp(png, 1);
}
void on_warning(png_structp, png_const_charp) {}

// All that libpng may jump out of; nothing in here owns anything.
bool encode(png_structp png, png_infop info, PicturePlanes planes, const PictureOptions& options,
            const std::vector<unsigned char>& profile, unsigned char* row) {
  if (setjmp(png_jmpbuf(png)) != 0) return false;
  const bool colour = planes.size() == 3;
  const int bits = options.bits;
  png_set_IHDR(png, info, static_cast<png_uint_32>(planes[0].width), static_cast<png_uint_32>(planes[0].height), bits,
               colour ? PNG_COLOR_TYPE_RGB : PNG_COLOR_TYPE_GRAY, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT,
               PNG_FILTER_TYPE_DEFAULT);
  png_set_compression_level(png, options.drawing ? kDrawingCompression : kCompression);
  if (options.drawing) png_set_filter(png, PNG_FILTER_TYPE_BASE, PNG_FILTER_NONE);  // flat areas pack best as they are
  png_set_iCCP(png, info, colour ? "sRGB" : "Grey with sRGB curve", PNG_COMPRESSION_TYPE_BASE, profile.data(),
               static_cast<png_uint_32>(profile.size()));
  png_write_info(png, info);
  if (bits == 16 && std::endian::native == std::endian::little) png_set_swap(png);
  for (int y = 0; y < planes[0].height; ++y) {
    if (bits == 16)
      interleave_row(planes, y, reinterpret_cast<std::uint16_t*>(row));
    else
      interleave_row(planes, y, row);
    png_write_row(png, row);
  }
  png_write_end(png, nullptr);
  return true;
}

}  // namespace

Result<void> write_png(AtomicFile& file, PicturePlanes planes, const PictureOptions& options) {
  const std::vector<unsigned char> profile = planes.size() == 3 ? srgb_profile() : srgb_grey_profile();
  std::vector<std::uint16_t> row(static_cast<std::size_t>(planes[0].width) * planes.size());
  Sink sink{file, 0, std::nullopt};
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, &sink, on_error, on_warning);
  png_infop info = png != nullptr ? png_create_info_struct(png) : nullptr;
  bool done = false;
  if (info != nullptr) {
    png_set_user_limits(png, PNG_UINT_31_MAX, PNG_UINT_31_MAX);
    png_set_write_fn(png, &sink, write_bytes, flush_bytes);
    done = encode(png, info, planes, options, profile, reinterpret_cast<unsigned char*>(row.data()));
  }
  png_destroy_write_struct(&png, &info);
  if (done) return {};
  return sink.error ? std::move(*sink.error) : Error(Code::kIo, "not enough memory to write a PNG picture");
}

}  // namespace ng::io
