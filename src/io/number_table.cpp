#include "io/number_table.h"

#include <algorithm>
#include <array>
#include <span>

#include "io/fits_card.h"
#include "io/number_tables.h"

namespace ng::io {

std::optional<std::size_t> NumberTable::find(std::string_view name) const {
  const auto& all = columns();
  const auto found =
      std::find_if(all.begin(), all.end(), [&](const TableColumn& c) { return lower(c.name) == lower(name); });
  if (found == all.end()) return std::nullopt;
  return static_cast<std::size_t>(found - all.begin());
}

Result<std::unique_ptr<NumberTable>> open_table(const std::filesystem::path& path) {
  NG_TRY(auto bytes, open_bytes(path));
  std::array<char, 4096> head{};
  NG_TRY(const std::size_t n, bytes->read_at(0, std::as_writable_bytes(std::span(head))));
  const std::string_view start(head.data(), n);
  if (start.empty()) return Error(Code::kCorrupt, path.string() + ": the file is empty");
  if (start.starts_with("SIMPLE  =")) return open_fits_table(path).in(path.string());
  if (start.find("<VOTABLE") != std::string_view::npos) return open_votable(*bytes).in(path.string());
  if (std::any_of(start.begin(), start.end(), [](char c) { return c == '\0'; }))
    return Error(Code::kUnsupported, path.string() + ": this is no table: neither text, nor VOTable, nor FITS");
  const std::string_view first = start.substr(0, start.find_first_of("\r\n"));
  if (auto records = record_table(std::move(bytes), first)) return records;
  NG_TRY(bytes, open_bytes(path));
  return open_text_table(std::move(bytes)).in(path.string());
}

}  // namespace ng::io
