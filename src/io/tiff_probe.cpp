#include "io/tiff_probe.h"

#include "io/tiff_stream.h"

namespace ng::io {

bool tiff_is_camera_raw(ByteSource& bytes) {
  TiffStream stream(bytes);
  const TiffStream::Handle tiff = stream.open("rm");
  if (!tiff) return false;
  std::uint32_t kind = 0;
  std::uint16_t photometric = 0;
  const std::uint8_t* version = nullptr;
  TIFFGetFieldDefaulted(tiff.get(), TIFFTAG_SUBFILETYPE, &kind);
  TIFFGetField(tiff.get(), TIFFTAG_PHOTOMETRIC, &photometric);
  return TIFFGetField(tiff.get(), TIFFTAG_DNGVERSION, &version) == 1 || photometric == PHOTOMETRIC_CFA ||
         photometric == 34892 || (kind & FILETYPE_REDUCEDIMAGE) != 0;
}

}  // namespace ng::io
