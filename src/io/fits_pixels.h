// io/fits_pixels.h - the pixels of one FITS image, whichever way they are stored.
#pragma once

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

// Compressed in tiles: Rice, gzip or PLIO, floats with or without dithering (tile_codes.h, tile_dither.h). The table
// behind the tiles is checked first. One row of tiles is held in memory. `bytes` outlives the result.
[[nodiscard]] std::unique_ptr<FitsPixels> tiled_fits_pixels(ByteSource& bytes, const FitsHdu& hdu);

}  // namespace ng::io
