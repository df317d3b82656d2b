// io/number_tables.h - the kinds of tables behind number_table.h.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "io/byte_source.h"
#include "io/number_table.h"

namespace ng::io {

// The lines of a text, of any length up to 1 MiB, without their ends.
class LineReader {
 public:
  explicit LineReader(std::unique_ptr<ByteSource> bytes) : bytes_(std::move(bytes)) {}
  // False at the end. Errors: kCorrupt (a line without end), kIo.
  [[nodiscard]] Result<bool> next(std::string& line);

 private:
  std::unique_ptr<ByteSource> bytes_;
  std::uint64_t offset_ = 0;
  std::string buffer_;
  std::size_t at_ = 0;
  bool ended_ = false;
};

// Cells of one line; quotes ("...", with "" for one inside) keep the delimiter.
[[nodiscard]] std::vector<std::string> split_cells(std::string_view line, char delimiter);
// NaN for what is no number.
struct CellNumber {
  double value = 0;
  bool sexagesimal = false;
};
[[nodiscard]] CellNumber cell_number(std::string_view cell);

[[nodiscard]] Result<std::unique_ptr<NumberTable>> open_text_table(std::unique_ptr<ByteSource> bytes);
// Nothing when the first line is no record of these catalogues.
[[nodiscard]] std::unique_ptr<NumberTable> record_table(std::unique_ptr<ByteSource> bytes, std::string_view first_line);
[[nodiscard]] Result<std::unique_ptr<NumberTable>> open_votable(ByteSource& bytes);
[[nodiscard]] Result<std::unique_ptr<NumberTable>> open_fits_table(const std::filesystem::path& path);

}  // namespace ng::io
