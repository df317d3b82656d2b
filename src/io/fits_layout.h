// io/fits_layout.h - where the headers and data of a FITS file lie, and which image in it is the frame.
//
// FITS standard 4.0: sizes of the data by equations 1 and 2 (section 4.4.1), blocks of 2880 bytes (section 3.1), images
// in tiles inside a binary table (section 10). Nothing that a header claims is believed before it fits into the file.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "io/byte_source.h"
#include "io/fits_card.h"

namespace ng::io {

enum class HduKind : std::uint8_t { kImage, kTiledImage, kOther };

struct FitsHdu {
  HduKind kind = HduKind::kOther;
  int index = 0;  // 0 for the primary
  FitsCards cards;
  std::uint64_t data_offset = 0;
  std::uint64_t data_bytes = 0;  // without the padding; for a tiled image those of its table and heap

  // Of the image, for the first two kinds.
  int bitpix = 0;  // 8, 16, 32, 64, -32, -64
  int width = 0;   // 0 when the image has no pixels
  int height = 0;
  int planes = 1;
  bool flat_shape = true;  // false: more axes than an image with planes has
  std::string name;        // EXTNAME, upper case

  [[nodiscard]] bool holds_pixels() const { return kind != HduKind::kOther && width > 0 && height > 0; }
};

struct FitsLayout {
  FitsHdu image;
  std::optional<FitsHdu> mask;  // an extension BPM or MASK of the same size: nonzero pixels are bad
  FitsCards cards;              // of the image, completed by those of the primary header
};

// Errors: kCorrupt (no END, truncated data, impossible sizes), kUnsupported (no image, or one of a shape or pixel type
// that is not a frame), kIo.
[[nodiscard]] Result<FitsLayout> read_fits_layout(ByteSource& bytes);

// The image whose EXTNAME is `name` (any case), without a mask. Errors as above, and kNotFound where there is none.
[[nodiscard]] Result<FitsLayout> read_fits_layout_of(ByteSource& bytes, const std::string& name);

}  // namespace ng::io
