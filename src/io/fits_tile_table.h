// io/fits_tile_table.h - the binary table behind a tile-compressed image: read, checked, and asked for tiles.
//
// FITS 4.0, section 10.1. The number and size of the tiles, the column layout and every descriptor are compared with
// what the image and the heap allow before anything is unpacked; then the table's own DATASUM, where it has one, is
// compared with its bytes (a flipped byte inside a tile usually unpacks to plausible wrong pixels: no decoder sees it).
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "io/byte_source.h"
#include "io/fits_layout.h"

namespace ng::io {

enum class TileCode : std::uint8_t { kRice, kGzip, kGzipShuffled, kPlio, kNone };

struct TileColumn {
  std::uint64_t offset = 0;  // within a row of the table
  bool wide = false;         // 64-bit descriptors
  char element = 'B';        // type of the elements in the heap
};

struct TileTable {
  TileCode code = TileCode::kRice;
  int rice_block = 32;
  int rice_bytes = 4;
  std::array<int, 3> image{1, 1, 1};
  std::array<int, 3> tile{1, 1, 1};
  std::array<int, 3> count{1, 1, 1};  // tiles along each axis

  std::optional<TileColumn> packed;                          // COMPRESSED_DATA
  std::optional<TileColumn> packed_gzip;                     // GZIP_COMPRESSED_DATA: floats that could not be quantized
  std::optional<TileColumn> unpacked;                        // UNCOMPRESSED_DATA
  std::optional<std::uint64_t> scale_at, zero_at, blank_at;  // columns ZSCALE, ZZERO, ZBLANK within a row
  char scale_type = 'D', zero_type = 'D', blank_type = 'J';

  std::vector<std::byte> rows;  // the table itself
  std::uint64_t row_bytes = 0;
  std::uint64_t heap_offset = 0;  // in the file

  // Where the data of a tile lie in the file. Empty: this column has nothing for it.
  struct Place {
    std::uint64_t offset = 0;
    std::uint64_t bytes = 0;
  };
  [[nodiscard]] Place place(const TileColumn& column, std::int64_t tile_index) const;
  // A number of a tile from a column of the table.
  [[nodiscard]] double number(std::uint64_t at, char type, std::int64_t tile_index) const;
};

// Errors: kCorrupt, kUnsupported (a compression that we do not read), kIo. Reads the whole table once.
[[nodiscard]] Result<TileTable> read_tile_table(ByteSource& bytes, const FitsHdu& hdu);

}  // namespace ng::io
