// store/library_open.h - the open database behind LibraryIndex; of this folder alone.
#pragma once

#include <SQLiteCpp/SQLiteCpp.h>

#include <optional>
#include <string>

#include "store/library_index.h"

namespace ng::store {

[[nodiscard]] Error told(const std::string& file, const SQLite::Exception& e);

[[nodiscard]] FrameKind kind_of(const std::string& name);

// What is not bound is null.
inline void bind(SQLite::Statement& s, int place, const std::optional<double>& value) {
  if (value) s.bind(place, *value);
}
[[nodiscard]] inline std::optional<double> number(const SQLite::Column& column) {
  if (column.isNull()) return std::nullopt;
  return column.getDouble();
}
[[nodiscard]] inline std::optional<Instant> instant(const SQLite::Column& column) {
  if (column.isNull()) return std::nullopt;
  return Instant::from_unix_us(column.getInt64());
}

struct LibraryIndex::Open {
  std::string file;
  SQLite::Database db;

  explicit Open(const std::filesystem::path& path);

  template <typename Work>
  auto attempt(Work&& work) -> decltype(work()) {
    try {
      return work();
    } catch (const SQLite::Exception& e) {
      return told(file, e);
    }
  }

  Result<void> migrate();
  Result<std::optional<LibraryFrame>> one(const char* condition, const std::string& value);
  // Inside a transaction of the caller; they throw.
  void insert(const LibraryFrame& frame);
  void insert(const MasterRecord& master);
  void insert(const PictureRecord& picture);
  void insert(const CalibrationMasterRecord& master);
  void insert(const SensorRecord& sensor);
  void insert(const Products& products);
  std::int64_t insert(const RecipeRecord& recipe);
  void remove(const char* table, const std::string& path);
  void add_name(const char* table, const char* column, const std::string& name);
};

}  // namespace ng::store
