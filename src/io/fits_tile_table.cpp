#include "io/fits_tile_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <charconv>

#include "io/fits_checksum.h"
#include "io/fits_decode.h"

namespace ng::io {
namespace {

constexpr std::size_t kChunkBytes = std::size_t{1} << 20;

Error broken(const std::string& what) {
  return {Code::kCorrupt, fmt::format("the table of the compressed tiles is damaged: {}", what)};
}

// Bytes of one element of a column type; 0 for a type that the standard does not know.
std::uint64_t type_bytes(char type) {
  switch (type) {
    case 'L':
    case 'B':
    case 'A':
      return 1;
    case 'I':
      return 2;
    case 'J':
    case 'E':
      return 4;
    case 'K':
    case 'D':
    case 'C':
    case 'P':
      return 8;
    case 'M':
    case 'Q':
      return 16;
    default:
      return 0;
  }
}

// "1PB(1737)": repeat 1, type P, element B.
struct TableForm {
  std::uint32_t repeat = 1;
  char type = ' ';
  char element = 'B';
  [[nodiscard]] std::uint64_t bytes() const { return type == 'X' ? (repeat + 7) / 8 : repeat * type_bytes(type); }
  [[nodiscard]] bool known() const { return type == 'X' || type_bytes(type) > 0; }
  [[nodiscard]] bool variable() const { return (type == 'P' || type == 'Q') && repeat == 1; }
};
TableForm parse_form(std::string_view text) {
  TableForm form;
  const char* const end = text.data() + text.size();
  const char* at = std::from_chars(text.data(), end, form.repeat).ptr;
  if (at != end) form.type = *at++;
  if (at != end) form.element = *at;
  return form;
}

Result<void> find_columns(const FitsCards& cards, TileTable& table) {
  const auto fields = cards.integer("TFIELDS");
  if (!fields || *fields < 1 || *fields > 999) return broken("TFIELDS is missing");
  std::uint64_t offset = 0;
  for (int i = 1; i <= *fields; ++i) {
    const std::string text = upper(cards.text(fmt::format("TFORM{}", i)).value_or(""));
    const std::string name = upper(cards.text(fmt::format("TTYPE{}", i)).value_or(""));
    const TableForm form = parse_form(text);
    if (!form.known()) return broken(fmt::format("TFORM{} = '{}' is no column form", i, text));
    const TileColumn column{offset, form.type == 'Q', form.element};
    if (form.variable() && type_bytes(form.element) == 0) return broken(fmt::format("TFORM{} = '{}'", i, text));
    if (form.variable() && name == "COMPRESSED_DATA") table.packed = column;
    if (form.variable() && name == "GZIP_COMPRESSED_DATA") table.packed_gzip = column;
    if (form.variable() && name == "UNCOMPRESSED_DATA") table.unpacked = column;
    const bool number =
        form.repeat == 1 && (form.type == 'I' || form.type == 'J' || form.type == 'E' || form.type == 'D');
    if (number && name == "ZSCALE") table.scale_at = offset, table.scale_type = form.type;
    if (number && name == "ZZERO") table.zero_at = offset, table.zero_type = form.type;
    if (number && name == "ZBLANK") table.blank_at = offset, table.blank_type = form.type;
    offset += form.bytes();
  }
  if (offset != table.row_bytes) return broken("its columns do not fill its rows");
  if (!table.packed && !table.packed_gzip && !table.unpacked) return broken("it has no column of tiles");
  return {};
}

Result<void> read_code(const FitsCards& cards, TileTable& table) {
  const std::string code = upper(cards.text("ZCMPTYPE").value_or(""));
  if (code == "RICE_1" || code == "RICE_ONE") {
    table.code = TileCode::kRice;
  } else if (code == "GZIP_1") {
    table.code = TileCode::kGzip;
  } else if (code == "GZIP_2") {
    table.code = TileCode::kGzipShuffled;
  } else if (code == "PLIO_1") {
    table.code = TileCode::kPlio;
  } else if (code == "NOCOMPRESS") {
    table.code = TileCode::kNone;
  } else {
    return Error(Code::kUnsupported, fmt::format("tiles compressed by '{}' are not read: only Rice, gzip and PLIO are; "
                                                 "unpack the file first",
                                                 code));
  }
  for (int i = 1; const auto name = cards.text(fmt::format("ZNAME{}", i)); ++i) {
    const auto value =
        static_cast<int>(std::clamp<std::int64_t>(cards.integer(fmt::format("ZVAL{}", i)).value_or(0), 0, 99));
    if (upper(*name) == "BYTEPIX") table.rice_bytes = value;
    if (upper(*name) == "BLOCKSIZE") table.rice_block = value;
  }
  if (table.rice_bytes != 1 && table.rice_bytes != 2 && table.rice_bytes != 4)
    return broken(fmt::format("BYTEPIX = {}", table.rice_bytes));
  if (table.rice_block != 16 && table.rice_block != 32) return broken(fmt::format("BLOCKSIZE = {}", table.rice_block));
  return {};
}

Result<void> read_tiling(const FitsHdu& hdu, TileTable& table) {
  table.image = {hdu.width, hdu.height, hdu.planes};
  std::int64_t tiles = 1;
  for (int i = 0; i < 3; ++i) {
    const std::int64_t tile = hdu.cards.integer(fmt::format("ZTILE{}", i + 1)).value_or(i == 0 ? table.image[0] : 1);
    if (tile < 1 || tile > table.image[i])
      return broken(fmt::format("ZTILE{} = {} does not fit the image", i + 1, tile));
    table.tile[i] = static_cast<int>(tile);
    table.count[i] = (table.image[i] - 1) / table.tile[i] + 1;
    tiles *= table.count[i];
  }
  if (hdu.cards.integer("NAXIS2") == tiles) return {};
  return broken(fmt::format("it should have {} rows, one for each tile", tiles));
}

// Every descriptor points into the heap, and each tile has data in one of its columns.
Result<void> check_descriptors(const TileTable& table, std::uint64_t heap_bytes) {
  const auto tiles = static_cast<std::int64_t>(table.rows.size() / table.row_bytes);
  for (std::int64_t t = 0; t < tiles; ++t) {
    bool has_data = false;
    for (const auto& column : {table.packed, table.packed_gzip, table.unpacked}) {
      if (!column) continue;
      const TileTable::Place at = table.place(*column, t);
      const std::uint64_t start = at.offset - table.heap_offset;
      if (at.bytes > heap_bytes || start > heap_bytes - at.bytes)
        return broken(fmt::format("tile {} lies outside the file", t + 1));
      has_data = has_data || at.bytes > 0;
    }
    if (!has_data) return broken(fmt::format("tile {} is empty", t + 1));
  }
  return {};
}

Result<void> read_all(ByteSource& bytes, std::uint64_t offset, std::span<std::byte> out) {
  NG_TRY(const std::size_t n, bytes.read_at(offset, out));
  if (n < out.size()) return Error(Code::kCorrupt, "the file is cut off: copy it again from its source");
  return {};
}

Result<void> check_datasum(ByteSource& bytes, const FitsHdu& hdu) {
  const auto expected = hdu.cards.integer("DATASUM");
  if (!expected) return {};
  OnesComplementSum sum;
  std::vector<std::byte> buffer;
  for (std::uint64_t at = 0; at < hdu.data_bytes; at += buffer.size()) {
    buffer.resize(std::min<std::uint64_t>(kChunkBytes, hdu.data_bytes - at));
    NG_CHECK(read_all(bytes, hdu.data_offset + at, buffer));
    sum.add(buffer);
  }
  if (*expected == sum.value()) return {};
  return Error(Code::kCorrupt,
               fmt::format("the compressed pixels are damaged: their sum is {}, the header says DATASUM = {}; copy the "
                           "file again from its source",
                           sum.value(), *expected));
}

}  // namespace

TileTable::Place TileTable::place(const TileColumn& column, std::int64_t tile_index) const {
  const std::byte* p = rows.data() + static_cast<std::uint64_t>(tile_index) * row_bytes + column.offset;
  const std::uint64_t n = column.wide ? load_big_endian<std::uint64_t>(p, 0) : load_big_endian<std::uint32_t>(p, 0);
  const std::uint64_t at = column.wide ? load_big_endian<std::uint64_t>(p, 1) : load_big_endian<std::uint32_t>(p, 1);
  constexpr std::uint64_t kFar = std::uint64_t{1} << 58;  // beyond any file: refused by the check of the descriptors
  return {heap_offset + std::min(at, kFar), std::min(n, kFar) * type_bytes(column.element)};
}

double TileTable::number(std::uint64_t at, char type, std::int64_t tile_index) const {
  const std::byte* p = rows.data() + static_cast<std::uint64_t>(tile_index) * row_bytes + at;
  switch (type) {
    case 'I':
      return static_cast<std::int16_t>(load_big_endian<std::uint16_t>(p, 0));
    case 'J':
      return static_cast<std::int32_t>(load_big_endian<std::uint32_t>(p, 0));
    case 'E':
      return std::bit_cast<float>(load_big_endian<std::uint32_t>(p, 0));
    default:
      return std::bit_cast<double>(load_big_endian<std::uint64_t>(p, 0));
  }
}

Result<TileTable> read_tile_table(ByteSource& bytes, const FitsHdu& hdu) {
  TileTable table;
  NG_CHECK(read_code(hdu.cards, table));
  NG_CHECK(read_tiling(hdu, table));
  table.row_bytes = static_cast<std::uint64_t>(hdu.cards.integer("NAXIS1").value_or(0));
  const auto rows = static_cast<std::uint64_t>(hdu.cards.integer("NAXIS2").value_or(0));
  const std::uint64_t table_bytes = table.row_bytes * rows;
  if (table.row_bytes == 0 || rows == 0 || hdu.cards.integer("BITPIX") != 8 || table_bytes > hdu.data_bytes)
    return broken("it has no rows of bytes");
  NG_CHECK(find_columns(hdu.cards, table));
  const std::int64_t heap = hdu.cards.integer("THEAP").value_or(static_cast<std::int64_t>(table_bytes));
  if (heap < static_cast<std::int64_t>(table_bytes) || heap > static_cast<std::int64_t>(hdu.data_bytes))
    return broken("its heap lies outside the file");
  table.heap_offset = hdu.data_offset + static_cast<std::uint64_t>(heap);
  table.rows.resize(table_bytes);
  NG_CHECK(read_all(bytes, hdu.data_offset, table.rows));
  NG_CHECK(check_descriptors(table, hdu.data_bytes - static_cast<std::uint64_t>(heap)));
  NG_CHECK(check_datasum(bytes, hdu));
  return table;
}

}  // namespace ng::io
