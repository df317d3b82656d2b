#include <algorithm>
#include <vector>

#include "io/icc_profile.h"
#include "io/picture_formats.h"
#include "io/tiff_stream.h"

namespace ng::io {
namespace {

constexpr std::uint64_t kClassicLimit = std::uint64_t{3} << 30;  // beyond it offsets need 64 bits (BigTIFF)
constexpr int kDeflateLevel = 4;

void describe(TIFF* tiff, PicturePlanes planes, int bits, const std::vector<unsigned char>& profile) {
  const int width = planes[0].width;
  const auto samples = static_cast<int>(planes.size());
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, width);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, planes[0].height);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, bits);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, samples);
  TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, SAMPLEFORMAT_UINT);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, samples == 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(tiff, TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_ADOBE_DEFLATE);
  TIFFSetField(tiff, TIFFTAG_ZIPQUALITY, kDeflateLevel);
  TIFFSetField(tiff, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
  TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, std::max(1, (1 << 20) / (width * samples * bits / 8)));
  TIFFSetField(tiff, TIFFTAG_ICCPROFILE, static_cast<std::uint32_t>(profile.size()), profile.data());
}

}  // namespace

Result<void> write_tiff(AtomicFile& file, PicturePlanes planes, const PictureOptions& options) {
  const std::vector<unsigned char> profile = planes.size() == 3 ? srgb_profile() : srgb_grey_profile();
  const std::uint64_t bytes = std::uint64_t{planes.size()} * planes[0].width * planes[0].height * options.bits / 8;
  const std::string refused = "the TIFF library refused the picture";
  TiffStream stream(file);
  TiffStream::Handle tiff = stream.open(bytes > kClassicLimit ? "w8" : "w");
  if (!tiff) return stream.error(Code::kIo, refused);
  describe(tiff.get(), planes, options.bits, profile);
  std::vector<std::uint16_t> row(static_cast<std::size_t>(planes[0].width) * planes.size());
  for (int y = 0; y < planes[0].height; ++y) {
    if (options.bits == 16)
      interleave_row(planes, y, row.data());
    else
      interleave_row(planes, y, reinterpret_cast<std::uint8_t*>(row.data()));
    if (TIFFWriteScanline(tiff.get(), row.data(), static_cast<std::uint32_t>(y), 0) < 0)
      return stream.error(Code::kIo, refused);
  }
  if (TIFFFlush(tiff.get()) != 1) return stream.error(Code::kIo, refused);
  return {};
}

}  // namespace ng::io
