// VOTable 1.3 (IVOA Recommendation 2013-09-20): the first TABLE, its data as TABLEDATA, BINARY or BINARY2.
#include <fmt/format.h>

#include <bit>
#include <charconv>
#include <cmath>
#include <limits>
#include <pugixml.hpp>
#include <span>

#include "io/fits_card.h"
#include "io/fits_decode.h"
#include "io/number_tables.h"

namespace ng::io {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

struct Field {
  int element_bytes = 0;   // 0: bits
  char kind = 's';         // 's' text or other, 'i' integer, 'u' unsigned byte, 'f' real
  std::int64_t count = 1;  // elements; -1: their number stands before them
};

Result<Field> field_of(const pugi::xml_node& node) {
  static const std::vector<std::pair<std::string_view, Field>> kTypes{
      {"boolean", {1, 's', 1}}, {"bit", {0, 's', 1}},          {"unsignedByte", {1, 'u', 1}},
      {"short", {2, 'i', 1}},   {"int", {4, 'i', 1}},          {"long", {8, 'i', 1}},
      {"char", {1, 's', 1}},    {"unicodeChar", {2, 's', 1}},  {"float", {4, 'f', 1}},
      {"double", {8, 'f', 1}},  {"floatComplex", {8, 's', 1}}, {"doubleComplex", {16, 's', 1}}};
  const std::string_view type = node.attribute("datatype").value();
  for (const auto& [name, known] : kTypes) {
    if (name != type) continue;
    Field field = known;
    std::string_view size = node.attribute("arraysize").value();
    if (size.find('*') != std::string_view::npos) {
      field.count = -1;
    } else {
      while (!size.empty()) {
        std::int64_t n = 0;
        const auto [end, error] = std::from_chars(size.data(), size.data() + size.size(), n);
        if (error != std::errc() || n < 0 || n > 1000000)
          return Error(Code::kCorrupt, "a FIELD has no size of numbers");
        field.count *= n;
        size.remove_prefix(static_cast<std::size_t>(end - size.data()));
        if (size.starts_with('x')) size.remove_prefix(1);
      }
    }
    return field;
  }
  return Error(Code::kUnsupported, fmt::format("the VOTable has a column of type '{}'", type));
}

// RFC 4648; white space between is passed over.
std::vector<std::byte> from_base64(std::string_view text) {
  std::vector<std::byte> out;
  out.reserve(text.size() * 3 / 4);
  std::uint32_t bits = 0;
  int held = 0;
  for (const char c : text) {
    int v = -1;
    if (c >= 'A' && c <= 'Z') v = c - 'A';
    if (c >= 'a' && c <= 'z') v = c - 'a' + 26;
    if (c >= '0' && c <= '9') v = c - '0' + 52;
    if (c == '+') v = 62;
    if (c == '/') v = 63;
    if (c == '=') break;
    if (v < 0) continue;
    bits = bits << 6 | static_cast<std::uint32_t>(v);
    held += 6;
    if (held < 8) continue;
    held -= 8;
    out.push_back(static_cast<std::byte>(bits >> held & 0xFF));
  }
  return out;
}

class VoTable final : public NumberTable {
 public:
  Result<void> open(std::string text) {
    text_ = std::move(text);
    const auto parsed = document_.load_buffer_inplace(text_.data(), text_.size());
    if (!parsed) return Error(Code::kCorrupt, fmt::format("the VOTable is no whole XML: {}", parsed.description()));
    const pugi::xml_node table = document_.select_node("//*[local-name()='TABLE']").node();
    if (!table) return Error(Code::kTooFew, "the VOTable holds no TABLE");
    for (const pugi::xml_node& child : table.children()) {
      if (local(child) != "FIELD") continue;
      NG_TRY(const Field field, field_of(child));
      fields_.push_back(field);
      columns_.push_back({child.attribute("name").value(), child.attribute("unit").value(), false});
    }
    read_epoch();
    return find_data(table);
  }
  [[nodiscard]] const std::vector<TableColumn>& columns() const override { return columns_; }
  [[nodiscard]] std::string form() const override { return fmt::format("VOTable, {} columns", columns_.size()); }
  [[nodiscard]] std::optional<double> epoch_year() const override { return epoch_; }

  [[nodiscard]] Result<bool> next(std::vector<double>& row) override {
    row.assign(fields_.size(), kNaN);
    if (!binary_) return next_of_text(row);
    if (at_ == data_.size()) return false;
    std::span<const std::byte> nulls;
    if (with_nulls_) {
      NG_TRY(nulls, take((fields_.size() + 7) / 8));
    }
    for (std::size_t i = 0; i < fields_.size(); ++i) {
      const Field& f = fields_[i];
      std::int64_t count = f.count;
      if (count < 0) {
        NG_TRY(const auto length, take(4));
        count = static_cast<std::int32_t>(load_big_endian<std::uint32_t>(length.data(), 0));
        if (count < 0) return cut();
      }
      const auto bytes = f.element_bytes == 0
                             ? static_cast<std::size_t>((count + 7) / 8)
                             : static_cast<std::size_t>(count) * static_cast<std::size_t>(f.element_bytes);
      NG_TRY(const auto cell, take(bytes));
      const bool null = with_nulls_ && (std::to_integer<int>(nulls[i / 8]) >> (7 - i % 8) & 1) != 0;
      if (count == 1 && !null) row[i] = number(f, cell);
    }
    return true;
  }

 private:
  static std::string_view local(const pugi::xml_node& node) {
    const std::string_view name = node.name();
    const std::size_t colon = name.find(':');
    return colon == std::string_view::npos ? name : name.substr(colon + 1);
  }
  static pugi::xml_node child_of(const pugi::xml_node& node, std::string_view name) {
    for (const pugi::xml_node& child : node.children())
      if (local(child) == name) return child;
    return {};
  }

  void read_epoch() {
    const std::string_view text =
        document_.select_node("//*[local-name()='COOSYS'][@epoch]").node().attribute("epoch").value();
    const std::string_view digits = text.starts_with('J') ? text.substr(1) : text;
    const double year = cell_number(digits).value;
    if (year > 1800 && year < 2200) epoch_ = year;
  }

  Result<void> find_data(const pugi::xml_node& table) {
    const pugi::xml_node data = child_of(table, "DATA");
    if (const pugi::xml_node text = child_of(data, "TABLEDATA")) {
      row_ = text.first_child();
      return {};
    }
    for (const std::string_view name : {"BINARY2", "BINARY"}) {
      const pugi::xml_node stream = child_of(child_of(data, name), "STREAM");
      if (!stream) continue;
      if (stream.attribute("href"))
        return Error(Code::kUnsupported, "the VOTable keeps its rows in another file: save it with the data inside");
      binary_ = true;
      with_nulls_ = name == "BINARY2";
      data_ = from_base64(stream.child_value());
      return {};
    }
    return Error(Code::kUnsupported, "the rows of the VOTable are neither TABLEDATA nor BINARY nor BINARY2");
  }

  Result<bool> next_of_text(std::vector<double>& row) {
    while (row_ && local(row_) != "TR") row_ = row_.next_sibling();
    if (!row_) return false;
    std::size_t i = 0;
    for (const pugi::xml_node& cell : row_.children())
      if (local(cell) == "TD" && i < row.size()) row[i++] = cell_number(cell.child_value()).value;
    row_ = row_.next_sibling();
    return true;
  }

  static Error cut() { return {Code::kCorrupt, "the rows of the VOTable are cut short"}; }
  Result<std::span<const std::byte>> take(std::size_t bytes) {
    if (bytes > data_.size() - at_) return cut();
    const auto part = std::span<const std::byte>(data_).subspan(at_, bytes);
    at_ += bytes;
    return part;
  }

  static double number(const Field& f, std::span<const std::byte> cell) {
    switch (f.kind) {
      case 'u':
        return std::to_integer<int>(cell[0]);
      case 'i':
        if (f.element_bytes == 2) return static_cast<std::int16_t>(load_big_endian<std::uint16_t>(cell.data(), 0));
        if (f.element_bytes == 4) return static_cast<std::int32_t>(load_big_endian<std::uint32_t>(cell.data(), 0));
        return static_cast<double>(static_cast<std::int64_t>(load_big_endian<std::uint64_t>(cell.data(), 0)));
      case 'f':
        if (f.element_bytes == 4) return std::bit_cast<float>(load_big_endian<std::uint32_t>(cell.data(), 0));
        return std::bit_cast<double>(load_big_endian<std::uint64_t>(cell.data(), 0));
      default:
        return kNaN;
    }
  }

  std::string text_;
  pugi::xml_document document_;
  std::vector<TableColumn> columns_;
  std::vector<Field> fields_;
  std::optional<double> epoch_;
  pugi::xml_node row_;
  bool binary_ = false, with_nulls_ = false;
  std::vector<std::byte> data_;
  std::size_t at_ = 0;
};

}  // namespace

Result<std::unique_ptr<NumberTable>> open_votable(ByteSource& bytes) {
  std::string text;
  for (;;) {
    constexpr std::size_t kChunk = std::size_t{4} << 20;
    const std::size_t had = text.size();
    text.resize(had + kChunk);
    NG_TRY(const std::size_t n, bytes.read_at(had, std::as_writable_bytes(std::span(text).subspan(had))));
    text.resize(had + n);
    if (n < kChunk) break;
  }
  auto table = std::make_unique<VoTable>();
  NG_CHECK(table->open(std::move(text)));
  return std::unique_ptr<NumberTable>(std::move(table));
}

}  // namespace ng::io
