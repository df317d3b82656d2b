// io/number_table.h - tables of numbers as publishers give them: text with a header, fixed records of the Hipparcos and
// Tycho catalogues, VOTable, FITS table. Row by row, so that a table larger than the memory can be read.
//
// What is read is decided by the content, never by the name of the file; all of it may be inside gzip. Cells that are
// empty or no number are NaN. Angles written with colons or blanks between ("12:34:56.7") are read as the number in
// units of the first field, and their column is marked.
#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"

namespace ng::io {

struct TableColumn {
  std::string name;
  std::string unit;  // as the file says it; empty where it does not
  bool sexagesimal = false;
};

class NumberTable {
 public:
  virtual ~NumberTable() = default;
  [[nodiscard]] virtual const std::vector<TableColumn>& columns() const = 0;
  // What it is, for people: "text, 12 columns", "Tycho-2 records" ...
  [[nodiscard]] virtual std::string form() const = 0;
  // Epoch of the positions, Julian year, where the file or its form says so.
  [[nodiscard]] virtual std::optional<double> epoch_year() const { return std::nullopt; }
  // The next row into `row`, one number a column; false at the end. Errors: kCorrupt (a row that breaks the table, with
  // its number), kIo.
  [[nodiscard]] virtual Result<bool> next(std::vector<double>& row) = 0;

  [[nodiscard]] std::optional<std::size_t> find(std::string_view name) const;  // any case
};

// Errors: kNotFound, kIo, kCorrupt, kUnsupported (no table that is known, said with what it seems to be).
[[nodiscard]] Result<std::unique_ptr<NumberTable>> open_table(const std::filesystem::path& path);

}  // namespace ng::io
