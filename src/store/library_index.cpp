#include "store/library_index.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>
#include <sqlite3.h>

#include <array>

#include "store/schema.h"

namespace ng::store {
namespace {

namespace fs = std::filesystem;

constexpr int kWaitMs = 10000;  // for another program that writes
constexpr const char* kColumns =
    "f.path, f.hash, f.bytes, f.kind, coalesce(t.name, ''), coalesce(n.evening, ''), f.filter, f.camera, f.width, "
    "f.height, f.binning_x, f.binning_y, f.start_us, f.exposure_s, f.gain_setting, f.offset_setting, "
    "f.sensor_temperature_c, f.rotation_deg FROM frames f LEFT JOIN targets t ON t.id = f.target_id "
    "LEFT JOIN nights n ON n.id = f.night_id";

Error told(const std::string& file, const SQLite::Exception& e) {
  const int code = e.getErrorCode();
  if (code == SQLITE_CORRUPT || code == SQLITE_NOTADB)
    return {Code::kCorrupt, fmt::format("{}: damaged ({}): `nightglass library rebuild` makes it anew from the frames",
                                        file, e.what())};
  if (code == SQLITE_CONSTRAINT) return {Code::kExists, fmt::format("{}: {}", file, e.what())};
  return {Code::kIo, fmt::format("{}: {}", file, e.what())};
}

FrameKind kind_of(const std::string& name) {
  for (const FrameKind kind :
       {FrameKind::kLight, FrameKind::kDark, FrameKind::kFlat, FrameKind::kBias, FrameKind::kDarkFlat})
    if (to_string(kind) == name) return kind;
  return FrameKind::kUnknown;
}

std::optional<double> number(const SQLite::Column& column) {
  if (column.isNull()) return std::nullopt;
  return column.getDouble();
}

LibraryFrame frame_of(SQLite::Statement& row) {
  LibraryFrame f;
  f.path = row.getColumn(0).getString();
  f.hash = row.getColumn(1).getString();
  f.bytes = row.getColumn(2).getInt64();
  f.kind = kind_of(row.getColumn(3).getString());
  f.target = row.getColumn(4).getString();
  f.night = row.getColumn(5).getString();
  f.filter = row.getColumn(6).getString();
  f.camera = row.getColumn(7).getString();
  f.width = row.getColumn(8).getInt();
  f.height = row.getColumn(9).getInt();
  f.binning_x = row.getColumn(10).getInt();
  f.binning_y = row.getColumn(11).getInt();
  if (!row.getColumn(12).isNull()) f.start = Instant::from_unix_us(row.getColumn(12).getInt64());
  f.exposure_s = number(row.getColumn(13));
  f.gain_setting = number(row.getColumn(14));
  f.offset_setting = number(row.getColumn(15));
  f.sensor_temperature_c = number(row.getColumn(16));
  f.rotation_deg = number(row.getColumn(17));
  return f;
}

void bind(SQLite::Statement& s, int place, const std::optional<double>& value) {
  if (value) s.bind(place, *value);  // what is not bound is null
}

}  // namespace

struct LibraryIndex::Open {
  std::string file;
  SQLite::Database db;

  explicit Open(const fs::path& path)
      : file(path.string()), db(path.string(), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE, kWaitMs) {}

  template <typename Work>
  auto attempt(Work&& work) -> decltype(work()) {
    try {
      return work();
    } catch (const SQLite::Exception& e) {
      return told(file, e);
    }
  }

  Result<void> migrate() {
    db.exec("PRAGMA foreign_keys = ON");
    db.exec("PRAGMA journal_mode = WAL");
    db.exec("PRAGMA synchronous = NORMAL");
    const int newest = static_cast<int>(kMigrations.size());
    if (db.execAndGet("PRAGMA user_version").getInt() == newest) return {};
    SQLite::Transaction all(db, SQLite::TransactionBehavior::IMMEDIATE);
    const int version = db.execAndGet("PRAGMA user_version").getInt();
    if (version > newest)
      return Error(Code::kUnsupported, fmt::format("{}: written by a newer nightglass (tables {}, known here {}): use "
                                                   "that one",
                                                   file, version, newest));
    for (int i = version; i < newest; ++i) db.exec(kMigrations[static_cast<std::size_t>(i)]);
    db.exec(fmt::format("PRAGMA user_version = {}", newest));
    all.commit();
    return {};
  }

  Result<std::optional<LibraryFrame>> one(const char* condition, const std::string& value) {
    return attempt([&]() -> Result<std::optional<LibraryFrame>> {
      SQLite::Statement s(db, fmt::format("SELECT {} WHERE {}", kColumns, condition));
      s.bind(1, value);
      if (!s.executeStep()) return std::optional<LibraryFrame>();
      return std::optional<LibraryFrame>(frame_of(s));
    });
  }

  void insert(const LibraryFrame& f) {
    for (const auto& [table, column, value] :
         {std::tuple("targets", "name", f.target), {"nights", "evening", f.night}}) {
      if (value.empty()) continue;
      SQLite::Statement s(db, fmt::format("INSERT OR IGNORE INTO {} ({}) VALUES (?)", table, column));
      s.bind(1, value);
      s.exec();
    }
    SQLite::Statement s(db,
                        "INSERT INTO frames (path, hash, bytes, kind, target_id, night_id, filter, camera, width, "
                        "height, binning_x, binning_y, start_us, exposure_s, gain_setting, offset_setting, "
                        "sensor_temperature_c, rotation_deg) VALUES (?, ?, ?, ?, (SELECT id FROM targets WHERE name = "
                        "?), (SELECT id FROM nights WHERE evening = ?), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
    s.bind(1, f.path);
    s.bind(2, f.hash);
    s.bind(3, f.bytes);
    s.bind(4, std::string(to_string(f.kind)));
    s.bind(5, f.target);
    s.bind(6, f.night);
    s.bind(7, f.filter);
    s.bind(8, f.camera);
    s.bind(9, f.width);
    s.bind(10, f.height);
    s.bind(11, f.binning_x);
    s.bind(12, f.binning_y);
    if (f.start) s.bind(13, f.start->unix_us());
    bind(s, 14, f.exposure_s);
    bind(s, 15, f.gain_setting);
    bind(s, 16, f.offset_setting);
    bind(s, 17, f.sensor_temperature_c);
    bind(s, 18, f.rotation_deg);
    s.exec();
  }
};

LibraryIndex::LibraryIndex(std::unique_ptr<Open> open) : open_(std::move(open)) {}
LibraryIndex::LibraryIndex(LibraryIndex&&) noexcept = default;
LibraryIndex& LibraryIndex::operator=(LibraryIndex&&) noexcept = default;
LibraryIndex::~LibraryIndex() = default;

Result<LibraryIndex> LibraryIndex::open(const fs::path& path) {
  try {
    LibraryIndex index(std::make_unique<Open>(path));
    NG_CHECK(index.open_->migrate());
    return index;
  } catch (const SQLite::Exception& e) {
    return told(path.string(), e);
  }
}

Result<void> LibraryIndex::add(const LibraryFrame& frame) {
  return open_->attempt([&]() -> Result<void> {
    SQLite::Transaction all(open_->db, SQLite::TransactionBehavior::IMMEDIATE);
    open_->insert(frame);
    all.commit();
    return {};
  });
}

Result<void> LibraryIndex::replace_all(const std::vector<LibraryFrame>& frames) {
  return open_->attempt([&]() -> Result<void> {
    SQLite::Transaction all(open_->db, SQLite::TransactionBehavior::IMMEDIATE);
    open_->db.exec("DELETE FROM frames; DELETE FROM targets; DELETE FROM nights");
    for (const LibraryFrame& f : frames) open_->insert(f);
    all.commit();
    return {};
  });
}

Result<void> LibraryIndex::move(const std::string& hash, const std::string& path) {
  return move_all({{hash, path}});
}

Result<void> LibraryIndex::move_all(const std::map<std::string, std::string>& path_by_hash) {
  return open_->attempt([&]() -> Result<void> {
    SQLite::Transaction all(open_->db, SQLite::TransactionBehavior::IMMEDIATE);
    // First away from all paths (none begins with a slash), so that none is taken by one that leaves it.
    for (const bool away : {true, false})
      for (const auto& [hash, path] : path_by_hash) {
        SQLite::Statement s(open_->db, "UPDATE frames SET path = ? WHERE hash = ?");
        s.bind(1, away ? "/" + hash : path);
        s.bind(2, hash);
        s.exec();
      }
    all.commit();
    return {};
  });
}

Result<std::optional<LibraryFrame>> LibraryIndex::by_hash(const std::string& hash) const {
  return open_->one("f.hash = ?", hash);
}

Result<std::optional<LibraryFrame>> LibraryIndex::by_path(const std::string& path) const {
  return open_->one("f.path = ?", path);
}

Result<bool> LibraryIndex::has_like(std::int64_t bytes, std::optional<Instant> start) const {
  return open_->attempt([&]() -> Result<bool> {
    SQLite::Statement s(open_->db, "SELECT 1 FROM frames WHERE bytes = ? AND start_us IS ? LIMIT 1");
    s.bind(1, bytes);
    if (start) s.bind(2, start->unix_us());
    return s.executeStep();
  });
}

Result<std::vector<LibraryFrame>> LibraryIndex::search(const FrameSearch& what) const {
  return open_->attempt([&]() -> Result<std::vector<LibraryFrame>> {
    const bool none = what.target == kNoTarget;
    const std::array asked = {std::pair(none ? "(t.name = ? OR t.name IS NULL AND f.kind IN ('light', 'unknown'))"
                                             : "t.name = ? COLLATE NOCASE",
                                        &what.target),
                              std::pair("f.filter = ? COLLATE NOCASE", &what.filter),
                              std::pair("f.kind = ?", &what.kind), std::pair("n.evening >= ?", &what.from_night),
                              std::pair("n.evening <= ?", &what.to_night)};
    std::string where;
    for (const auto& [condition, value] : asked)
      if (!value->empty()) where += (where.empty() ? " WHERE " : " AND ") + std::string(condition);
    SQLite::Statement s(open_->db, fmt::format("SELECT {}{} ORDER BY f.path", kColumns, where));
    int place = 0;
    for (const auto& [condition, value] : asked)
      if (!value->empty()) s.bind(++place, *value);
    std::vector<LibraryFrame> found;
    while (s.executeStep()) found.push_back(frame_of(s));
    return found;
  });
}

Result<std::vector<TargetHours>> LibraryIndex::hours() const {
  return open_->attempt([&]() -> Result<std::vector<TargetHours>> {
    SQLite::Statement s(open_->db, "SELECT target, filter, frames, nights, exposure_s FROM hours ORDER BY 1, 2");
    std::vector<TargetHours> found;
    while (s.executeStep())
      found.push_back({s.getColumn(0).getString(), s.getColumn(1).getString(), s.getColumn(2).getInt(),
                       s.getColumn(3).getInt(), s.getColumn(4).getDouble()});
    return found;
  });
}

Result<void> LibraryIndex::backup(const fs::path& path) const {
  std::error_code ignored;
  if (fs::exists(fs::symlink_status(path, ignored)))
    return Error(Code::kExists, fmt::format("{} exists already and is not overwritten", path.string()));
  return open_->attempt([&]() -> Result<void> {
    SQLite::Statement s(open_->db, "VACUUM INTO ?");
    s.bind(1, path.string());
    s.exec();
    return {};
  });
}

}  // namespace ng::store
