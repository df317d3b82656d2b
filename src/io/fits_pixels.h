// io/fits_pixels.h - the pixels of one FITS image, whichever way they are stored.
#pragma once

#include <filesystem>
#include <memory>

#include "base/image.h"
#include "base/result.h"
#include "io/byte_source.h"
#include "io/fits_decode.h"
#include "io/fits_layout.h"

namespace ng::io {

class FitsPixels {
 public:
  virtual ~FitsPixels() = default;
  // As FrameSource::read_rows: physical values, undefined ones NaN. Errors: kCorrupt, kIo.
  [[nodiscard]] virtual Result<void> read_rows(int plane, int y0, View<float> out) = 0;
};

// BZERO, BSCALE and BLANK of an image; the values of the standard where a card is absent or unreadable.
[[nodiscard]] FitsScale fits_scale(const FitsHdu& hdu);

// Stored as they are, in a plain file or inside gzip. `bytes` outlives the result.
[[nodiscard]] std::unique_ptr<FitsPixels> plain_fits_pixels(ByteSource& bytes, const FitsHdu& hdu);

// Compressed in tiles: Rice, gzip, PLIO or H-compress, floats with or without dithering, unpacked by cfitsio. The table
// behind the tiles is checked first, and its DATASUM where it has one. `bytes` outlives the result.
[[nodiscard]] std::unique_ptr<FitsPixels> tiled_fits_pixels(const std::filesystem::path& path, ByteSource& bytes,
                                                            const FitsHdu& hdu);

}  // namespace ng::io
