#include <fmt/format.h>

#include <array>
#include <csetjmp>
#include <cstdlib>
#include <vector>

#include "io/icc_profile.h"
#include "io/jpeg_library.h"
#include "io/picture_formats.h"

namespace ng::io {
namespace {

struct Failure {
  jpeg_error_mgr base;  // first, so that libjpeg's pointer to it is a pointer to the whole
  std::jmp_buf back;
  std::array<char, JMSG_LENGTH_MAX> text;
};

void on_error(j_common_ptr jpeg) {
  auto* failure = reinterpret_cast<Failure*>(jpeg->err);
  jpeg->err->format_message(jpeg, failure->text.data());
  std::longjmp(failure->back, 1);
}

// Compressed pictures are small (a few bytes per pixel at most): made in memory, written in one piece.
bool encode(jpeg_compress_struct& jpeg, Failure& failure, PicturePlanes planes, int quality,
            const std::vector<unsigned char>& profile, std::uint8_t* row, unsigned char** bytes, unsigned long* size) {
  if (setjmp(failure.back) != 0) return false;
  jpeg_create_compress(&jpeg);
  jpeg_mem_dest(&jpeg, bytes, size);
  const bool colour = planes.size() == 3;
  jpeg.image_width = static_cast<JDIMENSION>(planes[0].width);
  jpeg.image_height = static_cast<JDIMENSION>(planes[0].height);
  jpeg.input_components = colour ? 3 : 1;
  jpeg.in_color_space = colour ? JCS_RGB : JCS_GRAYSCALE;
  jpeg_set_defaults(&jpeg);
  jpeg_set_quality(&jpeg, quality, TRUE);
  for (int c = 0; c < jpeg.num_components; ++c) jpeg.comp_info[c].h_samp_factor = jpeg.comp_info[c].v_samp_factor = 1;
  jpeg.optimize_coding = TRUE;
  jpeg_start_compress(&jpeg, TRUE);
  jpeg_write_icc_profile(&jpeg, profile.data(), static_cast<unsigned>(profile.size()));
  for (int y = 0; y < planes[0].height; ++y) {
    interleave_row(planes, y, row);
    jpeg_write_scanlines(&jpeg, &row, 1);
  }
  jpeg_finish_compress(&jpeg);
  return true;
}

}  // namespace

Result<void> write_jpeg(AtomicFile& file, PicturePlanes planes, const PictureOptions& options) {
  if (planes[0].width > JPEG_MAX_DIMENSION || planes[0].height > JPEG_MAX_DIMENSION)
    return Error(
        Code::kUnsupported,
        fmt::format("a JPEG picture has at most {} pixels along a side: choose PNG or TIFF", JPEG_MAX_DIMENSION));
  const std::vector<unsigned char> profile = planes.size() == 3 ? srgb_profile() : srgb_grey_profile();
  std::vector<std::uint8_t> row(static_cast<std::size_t>(planes[0].width) * planes.size());
  jpeg_compress_struct jpeg{};
  Failure failure{};
  jpeg.err = jpeg_std_error(&failure.base);
  failure.base.error_exit = on_error;
  unsigned char* bytes = nullptr;
  unsigned long size = 0;
  const bool done = encode(jpeg, failure, planes, options.jpeg_quality, profile, row.data(), &bytes, &size);
  jpeg_destroy_compress(&jpeg);
  Result<void> result = done ? file.write_at(0, std::as_bytes(std::span(bytes, size)))
                             : Result<void>(Error(Code::kIo, fmt::format("the JPEG library refused the picture: {}",
                                                                         failure.text.data())));
  std::free(bytes);
  return result;
}

}  // namespace ng::io
