// io/fits_tile_table.h - checks the binary table behind a tile-compressed image before anything unpacks it.
//
// FITS 4.0, section 10.1. A decoder that trusts the table reads outside its buffers when a byte of it has flipped, so
// the number and size of the tiles, the column layout and every descriptor are compared with what the image and the
// heap allow; then the table's own DATASUM, where it has one, is compared with its bytes (a flipped byte inside a tile
// usually unpacks to plausible wrong pixels: no decoder can see it).
#pragma once

#include "io/byte_source.h"
#include "io/fits_layout.h"

namespace ng::io {

// Errors: kCorrupt, kUnsupported (a compression that we do not read), kIo. Reads the whole table once.
[[nodiscard]] Result<void> check_tile_table(ByteSource& bytes, const FitsHdu& hdu);

}  // namespace ng::io
