#include "store/library_index.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>
#include <sqlite3.h>

#include <cstring>

#include "store/library_open.h"
#include "store/schema.h"

namespace ng::store {
namespace {

namespace fs = std::filesystem;

constexpr int kWaitMs = 10000;  // for another program that writes
constexpr const char* kColumns =
    "f.path, f.hash, f.bytes, f.kind, coalesce(t.name, ''), coalesce(n.evening, ''), f.filter, f.camera, f.width, "
    "f.height, f.binning_x, f.binning_y, f.start_us, f.exposure_s, f.gain_setting, f.offset_setting, "
    "f.sensor_temperature_c, f.rotation_deg, coalesce(r.telescope, ''), r.focal_length_mm, r.pixel_size_um, "
    "s.latitude_deg, s.longitude_deg";
constexpr const char* kFrom =
    " FROM frames f LEFT JOIN targets t ON t.id = f.target_id LEFT JOIN nights n ON n.id = f.night_id "
    "LEFT JOIN rigs r ON r.id = f.rig_id LEFT JOIN sites s ON s.id = f.site_id";
constexpr int kMeasured = 23;  // the first column after those
constexpr const char* kMeasuredColumns =
    ", m.stars, m.fwhm_px, (SELECT max(worth) FROM grades WHERE frame_hash = f.hash)";
constexpr const char* kMeasuredFrom =
    " LEFT JOIN measures m ON m.id = (SELECT id FROM measures WHERE frame_hash = f.hash "
    "ORDER BY version DESC, fwhm_px IS NULL, fwhm_px, id LIMIT 1)";

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
  f.telescope = row.getColumn(18).getString();
  f.focal_length_mm = number(row.getColumn(19));
  f.pixel_size_um = number(row.getColumn(20));
  f.site_latitude_deg = number(row.getColumn(21));
  f.site_longitude_deg = number(row.getColumn(22));
  return f;
}

// The conditions of a search, each led by an index (IN, not a comparison of what was joined), with what is to be bound
// to them.
struct Where {
  std::string text;
  std::vector<std::string> words;
  std::vector<double> numbers;

  void add(const std::string& condition) { text += (text.empty() ? " WHERE " : " AND ") + condition; }
  void add(const std::string& condition, const std::string& word) {
    if (word.empty()) return;
    add(condition);
    words.push_back(word);
  }
  void bind_to(SQLite::Statement& s) const {
    int place = 0;
    for (const std::string& word : words) s.bind(++place, word);
    for (const double value : numbers) s.bind(++place, value);
  }
};

Where where_of(const FrameSearch& what) {
  Where w;
  w.add(what.target == kNoTarget ? "(f.target_id IN (SELECT id FROM targets WHERE name = ?) OR f.target_id IS NULL AND "
                                   "f.kind IN ('light', 'unknown'))"
                                 : "f.target_id IN (SELECT id FROM targets WHERE name = ? COLLATE NOCASE)",
        what.target);
  w.add("f.filter = ? COLLATE NOCASE", what.filter);
  w.add("f.kind = ?", what.kind);
  w.add("f.path > ?", what.after_path);
  std::string nights;
  for (const auto& [condition, evening] :
       {std::pair("evening >= ?", &what.from_night), {"evening <= ?", &what.to_night}}) {
    if (evening->empty()) continue;
    nights += (nights.empty() ? "" : " AND ") + std::string(condition);
    w.words.push_back(*evening);
  }
  if (!nights.empty()) w.add("f.night_id IN (SELECT id FROM nights WHERE " + nights + ")");
  std::string measure;
  if (what.max_fwhm_px) {
    measure += " AND fwhm_px <= ?";
    w.numbers.push_back(*what.max_fwhm_px);
  }
  if (what.min_stars) {
    measure += " AND stars >= ?";
    w.numbers.push_back(*what.min_stars);
  }
  if (!measure.empty())
    w.add("f.hash IN (SELECT frame_hash FROM measures WHERE" + measure.substr(std::strlen(" AND")) + ")");
  if (what.min_worth) {
    w.add("f.hash IN (SELECT frame_hash FROM grades WHERE worth >= ?)");
    w.numbers.push_back(*what.min_worth);
  }
  return w;
}

std::string limit_of(const FrameSearch& what) {
  return what.at_most ? fmt::format(" LIMIT {}", *what.at_most) : "";
}

}  // namespace

FrameKind kind_of(const std::string& name) {
  for (const FrameKind kind :
       {FrameKind::kLight, FrameKind::kDark, FrameKind::kFlat, FrameKind::kBias, FrameKind::kDarkFlat})
    if (to_string(kind) == name) return kind;
  return FrameKind::kUnknown;
}

Error told(const std::string& file, const SQLite::Exception& e) {
  const int code = e.getErrorCode();
  if (code == SQLITE_CORRUPT || code == SQLITE_NOTADB)
    return {Code::kCorrupt, fmt::format("{}: damaged ({}): `nightglass library rebuild` makes it anew from the frames",
                                        file, e.what())};
  if (code == SQLITE_CONSTRAINT) return {Code::kExists, fmt::format("{}: {}", file, e.what())};
  return {Code::kIo, fmt::format("{}: {}", file, e.what())};
}

LibraryIndex::Open::Open(const fs::path& path)
    : file(path.string()), db(path.string(), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE, kWaitMs) {}

Result<void> LibraryIndex::Open::migrate() {
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

Result<std::optional<LibraryFrame>> LibraryIndex::Open::one(const char* condition, const std::string& value) {
  return attempt([&]() -> Result<std::optional<LibraryFrame>> {
    SQLite::Statement s(db, fmt::format("SELECT {}{} WHERE {}", kColumns, kFrom, condition));
    s.bind(1, value);
    if (!s.executeStep()) return std::optional<LibraryFrame>();
    return std::optional<LibraryFrame>(frame_of(s));
  });
}

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
    const Where where = where_of(what);
    SQLite::Statement s(open_->db, fmt::format("SELECT {}{}{} ORDER BY f.path", kColumns, kFrom, where.text));
    where.bind_to(s);
    std::vector<LibraryFrame> found;
    while (s.executeStep()) found.push_back(frame_of(s));
    return found;
  });
}

Result<std::vector<FoundFrame>> LibraryIndex::search_measured(const FrameSearch& what) const {
  return open_->attempt([&]() -> Result<std::vector<FoundFrame>> {
    const Where where = where_of(what);
    SQLite::Statement s(open_->db, fmt::format("SELECT {}{}{}{}{} ORDER BY f.path", kColumns, kMeasuredColumns, kFrom,
                                               kMeasuredFrom, where.text) +
                                       limit_of(what));
    where.bind_to(s);
    std::vector<FoundFrame> found;
    while (s.executeStep()) {
      FoundFrame f{frame_of(s), {}};
      if (const auto stars = s.getColumn(kMeasured); !stars.isNull()) f.measured.stars = stars.getInt();
      f.measured.fwhm_px = number(s.getColumn(kMeasured + 1));
      f.measured.worth = number(s.getColumn(kMeasured + 2));
      found.push_back(std::move(f));
    }
    return found;
  });
}

Result<int> LibraryIndex::count(const FrameSearch& what) const {
  return open_->attempt([&]() -> Result<int> {
    FrameSearch whole = what;
    whole.after_path.clear();
    const Where where = where_of(whole);
    SQLite::Statement s(open_->db, "SELECT count(*) FROM frames f" + where.text);
    where.bind_to(s);
    s.executeStep();
    return s.getColumn(0).getInt();
  });
}

Result<std::vector<std::string>> LibraryIndex::measure_files(const FrameSearch& what) const {
  return open_->attempt([&]() -> Result<std::vector<std::string>> {
    const Where where = where_of(what);
    SQLite::Statement s(open_->db,
                        fmt::format("SELECT DISTINCT m.measures_path{} JOIN measures q ON q.frame_hash = f.hash JOIN "
                                    "masters m ON m.id = q.master_id{} ORDER BY 1",
                                    kFrom, where.text));
    where.bind_to(s);
    std::vector<std::string> files;
    while (s.executeStep()) files.push_back(s.getColumn(0).getString());
    return files;
  });
}

Result<std::vector<ProductFile>> LibraryIndex::product_files() const {
  return open_->attempt([&]() -> Result<std::vector<ProductFile>> {
    std::vector<ProductFile> found;
    SQLite::Statement s(open_->db,
                        "SELECT path, hash FROM masters UNION ALL SELECT path, hash FROM pictures UNION ALL "
                        "SELECT path, hash FROM calibration_masters UNION ALL SELECT path, hash FROM sensor_results "
                        "ORDER BY path");
    while (s.executeStep()) found.push_back({s.getColumn(0).getString(), s.getColumn(1).getString()});
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
