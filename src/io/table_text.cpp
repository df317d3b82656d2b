// Text tables: a header with the names of the columns, then rows; the delimiter is found. And fixed records.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <span>

#include "base/angle.h"
#include "io/fits_card.h"
#include "io/number_tables.h"

namespace ng::io {
namespace {

constexpr std::size_t kLongestLine = std::size_t{1} << 20;
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

class TextTable final : public NumberTable {
 public:
  TextTable(LineReader lines, char delimiter, std::vector<TableColumn> columns, std::string first_row)
      : lines_(std::move(lines)), delimiter_(delimiter), columns_(std::move(columns)), pending_(std::move(first_row)) {}
  [[nodiscard]] const std::vector<TableColumn>& columns() const override { return columns_; }
  [[nodiscard]] std::string form() const override { return fmt::format("text, {} columns", columns_.size()); }
  [[nodiscard]] Result<bool> next(std::vector<double>& row) override {
    std::string line = std::move(pending_);
    pending_.clear();
    while (trimmed(line).empty() || line[0] == '#') {
      NG_TRY(const bool more, lines_.next(line));
      if (!more) return false;
    }
    ++row_;
    const auto cells = split_cells(line, delimiter_);
    if (cells.size() != columns_.size())
      return Error(Code::kCorrupt,
                   fmt::format("row {} has {} cells, the header {}", row_, cells.size(), columns_.size()));
    row.resize(cells.size());
    for (std::size_t i = 0; i < cells.size(); ++i) row[i] = cell_number(cells[i]).value;
    return true;
  }

 private:
  LineReader lines_;
  char delimiter_;
  std::vector<TableColumn> columns_;
  std::string pending_;
  std::int64_t row_ = 0;
};

// Records without a header whose fields are fixed by the publication.
struct RecordForm {
  const char* name;
  std::size_t fields;
  double epoch_year;
  std::vector<std::pair<std::size_t, const char*>> columns;  // field, name as star columns are known by
};

// Byte-by-byte descriptions of CDS I/259 (Tycho-2, Hog et al. 2000) and I/239 (Hipparcos and Tycho-1, ESA 1997).
const std::vector<RecordForm>& record_forms() {
  static const std::vector<RecordForm> forms{
      {"Tycho-2 records",
       32,
       2000.0,
       {{2, "RAmdeg"},
        {3, "DEmdeg"},
        {4, "pmRA"},
        {5, "pmDE"},
        {6, "e_RAmdeg"},
        {7, "e_DEmdeg"},
        {8, "e_pmRA"},
        {9, "e_pmDE"},
        {17, "BTmag"},
        {19, "VTmag"},
        {24, "RAdeg"},
        {25, "DEdeg"}}},
      {"Tycho-2 supplement records",
       18,
       1991.25,
       {{2, "RAdeg"},
        {3, "DEdeg"},
        {4, "pmRA"},
        {5, "pmDE"},
        {6, "e_RAdeg"},
        {7, "e_DEdeg"},
        {8, "e_pmRA"},
        {9, "e_pmDE"},
        {11, "BTmag"},
        {13, "VTmag"}}},
      {"Hipparcos records",
       78,
       1991.25,
       {{5, "Vmag"},
        {8, "RAdeg"},
        {9, "DEdeg"},
        {12, "pmRA"},
        {13, "pmDE"},
        {14, "e_RAdeg"},
        {15, "e_DEdeg"},
        {17, "e_pmRA"},
        {18, "e_pmDE"},
        {37, "B-V"}}},
      {"Tycho-1 records",
       58,
       1991.25,
       {{5, "Vmag"},
        {8, "RAdeg"},
        {9, "DEdeg"},
        {12, "pmRA"},
        {13, "pmDE"},
        {14, "e_RAdeg"},
        {15, "e_DEdeg"},
        {17, "e_pmRA"},
        {18, "e_pmDE"},
        {37, "B-V"}}},
  };
  return forms;
}

class RecordTable final : public NumberTable {
 public:
  RecordTable(LineReader lines, const RecordForm& form) : lines_(std::move(lines)), form_(form) {
    for (const auto& [field, name] : form.columns) columns_.push_back({name, "", false});
  }
  [[nodiscard]] const std::vector<TableColumn>& columns() const override { return columns_; }
  [[nodiscard]] std::string form() const override { return form_.name; }
  [[nodiscard]] std::optional<double> epoch_year() const override { return form_.epoch_year; }
  [[nodiscard]] Result<bool> next(std::vector<double>& row) override {
    std::string line;
    do {
      NG_TRY(const bool more, lines_.next(line));
      if (!more) return false;
    } while (trimmed(line).empty());
    ++row_;
    fields_.clear();
    for (std::size_t from = 0;;) {
      const std::size_t bar = line.find('|', from);
      fields_.push_back(std::string_view(line).substr(from, bar == std::string::npos ? bar : bar - from));
      if (bar == std::string::npos) break;
      from = bar + 1;
    }
    if (fields_.size() != form_.fields)
      return Error(Code::kCorrupt, fmt::format("record {} has {} fields, and {} have {}", row_, fields_.size(),
                                               form_.name, form_.fields));
    row.resize(columns_.size());
    for (std::size_t i = 0; i < columns_.size(); ++i) row[i] = cell_number(fields_[form_.columns[i].first]).value;
    return true;
  }

 private:
  LineReader lines_;
  const RecordForm& form_;
  std::vector<TableColumn> columns_;
  std::vector<std::string_view> fields_;
  std::int64_t row_ = 0;
};

char delimiter_of(std::string_view header) {
  char best = '\0';
  std::ptrdiff_t most = 0;
  for (const char c : {',', ';', '\t', '|'}) {
    const auto n = std::count(header.begin(), header.end(), c);
    if (n > most) {
      most = n;
      best = c;
    }
  }
  return best;
}

}  // namespace

Result<bool> LineReader::next(std::string& line) {
  for (;;) {
    const std::size_t end = buffer_.find('\n', at_);
    if (end != std::string::npos || (ended_ && at_ < buffer_.size())) {
      const std::size_t stop = end == std::string::npos ? buffer_.size() : end;
      line.assign(buffer_, at_, stop - at_);
      if (!line.empty() && line.back() == '\r') line.pop_back();
      at_ = std::min(buffer_.size(), stop + 1);
      return true;
    }
    if (ended_) return false;
    buffer_.erase(0, at_);
    at_ = 0;
    if (buffer_.size() > kLongestLine) return Error(Code::kCorrupt, "a line is longer than 1 MiB: this is no text");
    const std::size_t had = buffer_.size();
    buffer_.resize(had + kLongestLine);
    NG_TRY(const std::size_t n, bytes_->read_at(offset_, std::as_writable_bytes(std::span(buffer_).subspan(had))));
    buffer_.resize(had + n);
    offset_ += n;
    ended_ = n < kLongestLine;
  }
}

std::vector<std::string> split_cells(std::string_view line, char delimiter) {
  std::vector<std::string> cells(1);
  bool quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (quoted && c == '"' && i + 1 < line.size() && line[i + 1] == '"') {
      cells.back() += '"';
      ++i;
    } else if (c == '"') {
      quoted = !quoted;
    } else if (c == delimiter && !quoted) {
      cells.emplace_back();
    } else {
      cells.back() += c;
    }
  }
  for (std::string& cell : cells) cell = std::string(trimmed(cell));
  return cells;
}

CellNumber cell_number(std::string_view cell) {
  cell = trimmed(cell);
  if (cell.starts_with('+')) cell.remove_prefix(1);
  double value = 0;
  const auto [end, error] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
  if (!cell.empty() && error == std::errc() && end == cell.data() + cell.size())
    return {std::isfinite(value) ? value : kNaN, false};
  if (cell.find_first_of(": ") != std::string_view::npos)
    if (const auto angle = parse_sexagesimal(cell)) return {*angle, true};
  return {kNaN, false};
}

std::unique_ptr<NumberTable> record_table(std::unique_ptr<ByteSource> bytes, std::string_view first_line) {
  const auto bars = static_cast<std::size_t>(std::count(first_line.begin(), first_line.end(), '|'));
  // A header has names where a record has numbers.
  for (const RecordForm& form : record_forms()) {
    if (bars + 1 != form.fields) continue;
    const auto cells = split_cells(first_line, '|');
    const bool position = !std::isnan(cell_number(cells[2]).value) || !std::isnan(cell_number(cells[8]).value) ||
                          (form.fields == 32 && !std::isnan(cell_number(cells[24]).value));
    if (position) return std::make_unique<RecordTable>(LineReader(std::move(bytes)), form);
  }
  return nullptr;
}

Result<std::unique_ptr<NumberTable>> open_text_table(std::unique_ptr<ByteSource> bytes) {
  LineReader lines(std::move(bytes));
  std::string header;
  do {
    NG_TRY(const bool more, lines.next(header));
    if (!more) return Error(Code::kCorrupt, "the table has no header line with the names of its columns");
  } while (trimmed(header).empty() || header[0] == '#');
  const char delimiter = delimiter_of(header);
  if (delimiter == '\0')
    return Error(Code::kUnsupported,
                 "the first line names no columns: it should be like ra,dec,mag (or with ; | tabs)");
  std::vector<TableColumn> columns;
  bool numbers = true;
  for (const std::string& name : split_cells(header, delimiter)) {
    columns.push_back({name, "", false});
    numbers = numbers && (name.empty() || !std::isnan(cell_number(name).value));
  }
  if (numbers)
    return Error(Code::kUnsupported,
                 "the first line holds numbers, not the names of columns: put a header line before it");
  // The first row shows which columns are written in degrees, minutes and seconds.
  std::string row;
  do {
    NG_TRY(const bool more, lines.next(row));
    if (!more) return Error(Code::kTooFew, "the table has a header and no rows");
  } while (trimmed(row).empty() || row[0] == '#');
  const auto cells = split_cells(row, delimiter);
  for (std::size_t i = 0; i < std::min(cells.size(), columns.size()); ++i)
    columns[i].sexagesimal = cell_number(cells[i]).sexagesimal;
  return std::unique_ptr<NumberTable>(
      std::make_unique<TextTable>(std::move(lines), delimiter, std::move(columns), std::move(row)));
}

}  // namespace ng::io
