#include "io/fits_tile_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <vector>

#include "io/fits_checksum.h"
#include "io/fits_decode.h"

namespace ng::io {
namespace {

constexpr std::size_t kChunkBytes = std::size_t{1} << 20;

Error broken(const std::string& what) {
  return {Code::kCorrupt, "the table of the compressed tiles is damaged: " + what};
}

// "1PB(1737)" -> repeat 1, type P. The length in bytes of the field; nothing for a form that the standard does not
// know.
struct TableForm {
  std::uint64_t repeat = 1;
  char type = ' ';
  [[nodiscard]] std::optional<std::uint64_t> bytes() const {
    switch (type) {
      case 'X':
        return (repeat + 7) / 8;
      case 'L':
      case 'B':
      case 'A':
        return repeat;
      case 'I':
        return 2 * repeat;
      case 'J':
      case 'E':
        return 4 * repeat;
      case 'K':
      case 'D':
      case 'C':
      case 'P':
        return 8 * repeat;
      case 'M':
      case 'Q':
        return 16 * repeat;
      default:
        return std::nullopt;
    }
  }
};
TableForm parse_form(std::string_view text) {
  TableForm form;
  std::uint32_t repeat = 1;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), repeat);
  if (error == std::errc()) form.repeat = repeat;
  if (end != text.data() + text.size()) form.type = *end;
  return form;
}

// Variable-length columns of tile data: where their descriptors lie within a row.
struct TileColumn {
  std::uint64_t offset = 0;
  bool wide = false;  // Q: 64-bit descriptors
  std::uint64_t element_bytes = 1;
};

std::uint64_t element_bytes_of(std::string_view form_text) {
  const std::size_t at = form_text.find_first_of("PQ");
  if (at == std::string_view::npos || at + 1 >= form_text.size()) return 1;
  return TableForm{1, form_text[at + 1]}.bytes().value_or(1);
}

Result<std::vector<TileColumn>> find_columns(const FitsCards& cards, std::uint64_t row_bytes) {
  const auto fields = cards.integer("TFIELDS");
  if (!fields || *fields < 1 || *fields > 999) return broken("TFIELDS is missing");
  std::vector<TileColumn> columns;
  std::uint64_t offset = 0;
  for (int i = 1; i <= *fields; ++i) {
    const std::string text = upper(cards.text(fmt::format("TFORM{}", i)).value_or(""));
    const TableForm form = parse_form(text);
    const auto bytes = form.bytes();
    if (!bytes) return broken(fmt::format("TFORM{} = '{}' is no column form", i, text));
    if ((form.type == 'P' || form.type == 'Q') && form.repeat == 1)
      columns.push_back({offset, form.type == 'Q', element_bytes_of(text)});
    offset += *bytes;
  }
  if (offset != row_bytes) return broken("its columns do not fill its rows");
  if (columns.empty()) return broken("it has no column of tiles");
  return columns;
}

Result<void> check_tiling(const FitsHdu& hdu) {
  const std::string code = upper(hdu.cards.text("ZCMPTYPE").value_or(""));
  constexpr std::array<std::string_view, 6> kKnown{"RICE_1", "RICE_ONE", "GZIP_1", "GZIP_2", "PLIO_1", "NOCOMPRESS"};
  if (std::find(kKnown.begin(), kKnown.end(), code) == kKnown.end())
    return Error(Code::kUnsupported, fmt::format("tiles compressed by '{}' are not read: only Rice, gzip and PLIO are; "
                                                 "unpack the file first",
                                                 code));
  const std::array<int, 3> axes{hdu.width, hdu.height, hdu.planes};
  std::uint64_t tiles = 1;
  for (int i = 0; i < 3; ++i) {
    const std::int64_t tile = hdu.cards.integer(fmt::format("ZTILE{}", i + 1)).value_or(i == 0 ? axes[0] : 1);
    if (tile < 1 || tile > axes[i]) return broken(fmt::format("ZTILE{} = {} does not fit the image", i + 1, tile));
    tiles *= static_cast<std::uint64_t>((axes[i] + tile - 1) / tile);
  }
  if (hdu.cards.integer("NAXIS2") != static_cast<std::int64_t>(tiles))
    return broken(fmt::format("it should have {} rows, one for each tile", tiles));
  for (int i = 1; const auto name = hdu.cards.text(fmt::format("ZNAME{}", i)); ++i) {
    const std::int64_t value = hdu.cards.integer(fmt::format("ZVAL{}", i)).value_or(0);
    const bool size_ok = value == 1 || value == 2 || value == 4 || value == 8;
    if (upper(*name) == "BYTEPIX" && !size_ok) return broken(fmt::format("BYTEPIX = {}", value));
    if (upper(*name) == "BLOCKSIZE" && value != 16 && value != 32) return broken(fmt::format("BLOCKSIZE = {}", value));
  }
  return {};
}

// Every descriptor points into the heap, and each tile has data in one of its columns.
Result<void> check_descriptors(std::span<const std::byte> rows, std::uint64_t row_bytes, std::uint64_t first_row,
                               const std::vector<TileColumn>& columns, std::uint64_t area_bytes) {
  for (std::uint64_t r = 0; r < rows.size() / row_bytes; ++r) {
    bool has_data = false;
    for (const TileColumn& column : columns) {
      const std::byte* p = rows.data() + r * row_bytes + column.offset;
      const std::uint64_t count =
          column.wide ? load_big_endian<std::uint64_t>(p, 0) : load_big_endian<std::uint32_t>(p, 0);
      const std::uint64_t start =
          column.wide ? load_big_endian<std::uint64_t>(p, 1) : load_big_endian<std::uint32_t>(p, 1);
      const bool inside =
          count <= area_bytes / column.element_bytes && start <= area_bytes - count * column.element_bytes;
      if (!inside) return broken(fmt::format("tile {} lies outside the file", first_row + r + 1));
      has_data = has_data || count > 0;
    }
    if (!has_data) return broken(fmt::format("tile {} is empty", first_row + r + 1));
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

Result<void> check_tile_table(ByteSource& bytes, const FitsHdu& hdu) {
  NG_CHECK(check_tiling(hdu));
  const auto row_bytes = static_cast<std::uint64_t>(hdu.cards.integer("NAXIS1").value_or(0));
  const auto rows = static_cast<std::uint64_t>(hdu.cards.integer("NAXIS2").value_or(0));
  const std::uint64_t table_bytes = row_bytes * rows;
  if (row_bytes == 0 || hdu.cards.integer("BITPIX") != 8) return broken("it has no rows of bytes");
  NG_TRY(const auto columns, find_columns(hdu.cards, row_bytes));
  const auto heap_start =
      static_cast<std::uint64_t>(hdu.cards.integer("THEAP").value_or(static_cast<std::int64_t>(table_bytes)));
  if (heap_start < table_bytes || heap_start > hdu.data_bytes) return broken("its heap lies outside the file");

  std::vector<std::byte> buffer;
  const std::uint64_t rows_at_once = std::max<std::uint64_t>(1, kChunkBytes / row_bytes);
  for (std::uint64_t row = 0; row < rows; row += rows_at_once) {
    buffer.resize(std::min(rows_at_once, rows - row) * row_bytes);
    NG_CHECK(read_all(bytes, hdu.data_offset + row * row_bytes, buffer));
    NG_CHECK(check_descriptors(buffer, row_bytes, row, columns, hdu.data_bytes - heap_start));
  }
  return check_datasum(bytes, hdu);
}

}  // namespace ng::io
