#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>

#include <tuple>

#include "store/library_open.h"

namespace ng::store {
namespace {

// Value of a column of texts, or null.
void bind(SQLite::Statement& s, int place, const std::string& text) {
  if (!text.empty()) s.bind(place, text);
}

}  // namespace

void LibraryIndex::Open::insert(const LibraryFrame& f) {
  add_name("targets", "name", f.target);
  add_name("nights", "evening", f.night);
  const bool rig = !f.telescope.empty() || !f.camera.empty();
  if (rig) {
    SQLite::Statement s(db,
                        "INSERT OR IGNORE INTO rigs (telescope, camera, focal_length_mm, pixel_size_um) VALUES "
                        "(?, ?, ?, ?)");
    s.bind(1, f.telescope);
    s.bind(2, f.camera);
    store::bind(s, 3, f.focal_length_mm);
    store::bind(s, 4, f.pixel_size_um);
    s.exec();
  }
  const bool site = f.site_latitude_deg && f.site_longitude_deg;
  if (site) {
    SQLite::Statement s(db, "INSERT OR IGNORE INTO sites (latitude_deg, longitude_deg) VALUES (?, ?)");
    s.bind(1, *f.site_latitude_deg);
    s.bind(2, *f.site_longitude_deg);
    s.exec();
  }
  SQLite::Statement s(
      db,
      "INSERT INTO frames (path, hash, bytes, kind, filter, camera, width, height, binning_x, binning_y, start_us, "
      "exposure_s, gain_setting, offset_setting, sensor_temperature_c, rotation_deg, target_id, night_id, rig_id, "
      "site_id) "
      "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, "
      "(SELECT id FROM targets WHERE name = ?17), (SELECT id FROM nights WHERE evening = ?18), "
      "(SELECT id FROM rigs WHERE telescope = ?19 AND camera = ?6 AND coalesce(focal_length_mm, 0) = coalesce(?20, 0) "
      "AND "
      "coalesce(pixel_size_um, 0) = coalesce(?21, 0)), "
      "(SELECT id FROM sites WHERE latitude_deg = ?22 AND longitude_deg = ?23))");
  s.bind(1, f.path);
  s.bind(2, f.hash);
  s.bind(3, f.bytes);
  s.bind(4, std::string(to_string(f.kind)));
  s.bind(5, f.filter);
  s.bind(6, f.camera);
  s.bind(7, f.width);
  s.bind(8, f.height);
  s.bind(9, f.binning_x);
  s.bind(10, f.binning_y);
  if (f.start) s.bind(11, f.start->unix_us());
  store::bind(s, 12, f.exposure_s);
  store::bind(s, 13, f.gain_setting);
  store::bind(s, 14, f.offset_setting);
  store::bind(s, 15, f.sensor_temperature_c);
  store::bind(s, 16, f.rotation_deg);
  s.bind(17, f.target);
  s.bind(18, f.night);
  if (rig) {
    s.bind(19, f.telescope);
    store::bind(s, 20, f.focal_length_mm);
    store::bind(s, 21, f.pixel_size_um);
  }
  if (site) {
    s.bind(22, *f.site_latitude_deg);
    s.bind(23, *f.site_longitude_deg);
  }
  s.exec();
}

void LibraryIndex::Open::add_name(const char* table, const char* column, const std::string& name) {
  if (name.empty()) return;
  SQLite::Statement s(db, fmt::format("INSERT OR IGNORE INTO {} ({}) VALUES (?)", table, column));
  s.bind(1, name);
  s.exec();
}

void LibraryIndex::Open::remove(const char* table, const std::string& path) {
  SQLite::Statement s(db, fmt::format("DELETE FROM {} WHERE path = ?", table));
  s.bind(1, path);
  s.exec();
}

std::int64_t LibraryIndex::Open::insert(const RecipeRecord& recipe) {
  SQLite::Statement s(db,
                      "INSERT INTO recipes (path, hash) VALUES (?, ?) ON CONFLICT DO UPDATE SET hash = excluded.hash "
                      "RETURNING id");
  s.bind(1, recipe.path);
  s.bind(2, recipe.hash);
  s.executeStep();
  const std::int64_t id = s.getColumn(0).getInt64();
  SQLite::Statement old(db, "DELETE FROM recipe_inputs WHERE recipe_id = ?");
  old.bind(1, id);
  old.exec();
  for (const RecipeInputRecord& input : recipe.inputs) {
    SQLite::Statement row(db, "INSERT OR IGNORE INTO recipe_inputs (recipe_id, role, hash) VALUES (?, ?, ?)");
    row.bind(1, id);
    row.bind(2, input.role);
    row.bind(3, input.hash);
    row.exec();
  }
  return id;
}

void LibraryIndex::Open::insert(const MasterRecord& m) {
  remove("masters", m.path);
  add_name("targets", "name", m.target);
  SQLite::Statement s(
      db,
      "INSERT INTO masters (path, hash, bytes, target_id, filter, frames, exposure_s, fwhm_px, noise_e, "
      "measures_path, recipe_id) VALUES (?, ?, ?, (SELECT id FROM targets WHERE name = ?), ?, ?, ?, ?, ?, "
      "?, ?) RETURNING id");
  s.bind(1, m.path);
  s.bind(2, m.hash);
  s.bind(3, m.bytes);
  s.bind(4, m.target);
  s.bind(5, m.filter);
  if (m.frames) s.bind(6, *m.frames);
  store::bind(s, 7, m.exposure_s);
  store::bind(s, 8, m.fwhm_px);
  store::bind(s, 9, m.noise_e);
  bind(s, 10, m.measures_path);
  s.bind(11, insert(m.recipe));
  s.executeStep();
  const std::int64_t id = s.getColumn(0).getInt64();
  for (const MeasureRecord& q : m.measures) {
    SQLite::Statement row(
        db,
        "INSERT INTO measures (master_id, frame_hash, key, version, stars, trails, background_e, noise_e, "
        "fwhm_px, half_flux_radius_px, eccentricity) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
    row.bind(1, id);
    row.bind(2, q.frame_hash);
    row.bind(3, q.key);
    row.bind(4, q.version);
    row.bind(5, q.stars);
    row.bind(6, q.trails);
    row.bind(7, q.background_e);
    row.bind(8, q.noise_e);
    store::bind(row, 9, q.fwhm_px);
    store::bind(row, 10, q.half_flux_radius_px);
    store::bind(row, 11, q.eccentricity);
    row.exec();
  }
  for (const GradeRecord& g : m.grades) {
    SQLite::Statement row(
        db,
        "INSERT OR IGNORE INTO grades (master_id, frame_hash, accepted, worth, reason) VALUES (?, ?, ?, ?, "
        "?)");
    row.bind(1, id);
    row.bind(2, g.frame_hash);
    row.bind(3, g.accepted ? 1 : 0);
    store::bind(row, 4, g.worth);
    row.bind(5, g.reason);
    row.exec();
  }
}

void LibraryIndex::Open::insert(const PictureRecord& p) {
  remove("pictures", p.path);
  SQLite::Statement s(db, "INSERT INTO pictures (path, hash, bytes, recipe_id) VALUES (?, ?, ?, ?)");
  s.bind(1, p.path);
  s.bind(2, p.hash);
  s.bind(3, p.bytes);
  s.bind(4, insert(p.recipe));
  s.exec();
}

void LibraryIndex::Open::insert(const Products& products) {
  for (const MasterRecord& m : products.masters) insert(m);
  for (const PictureRecord& p : products.pictures) insert(p);
  for (const CalibrationMasterRecord& m : products.calibration) insert(m);
  for (const SensorRecord& s : products.sensors) insert(s);
}

Result<void> LibraryIndex::add(const LibraryFrame& frame) {
  return open_->attempt([&]() -> Result<void> {
    SQLite::Transaction all(open_->db, SQLite::TransactionBehavior::IMMEDIATE);
    open_->insert(frame);
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

Result<void> LibraryIndex::replace_all(const std::vector<LibraryFrame>& frames, const Products& products) {
  return open_->attempt([&]() -> Result<void> {
    SQLite::Transaction all(open_->db, SQLite::TransactionBehavior::IMMEDIATE);
    open_->db.exec(
        "DELETE FROM pictures; DELETE FROM masters; DELETE FROM calibration_masters; DELETE FROM sensor_results; "
        "DELETE FROM recipes; DELETE FROM frames; DELETE FROM targets; DELETE FROM nights; DELETE FROM rigs; DELETE "
        "FROM sites");
    for (const LibraryFrame& f : frames) open_->insert(f);
    open_->insert(products);
    all.commit();
    return {};
  });
}

Result<void> LibraryIndex::enter(const Products& products) {
  return open_->attempt([&]() -> Result<void> {
    SQLite::Transaction all(open_->db, SQLite::TransactionBehavior::IMMEDIATE);
    open_->insert(products);
    all.commit();
    return {};
  });
}

}  // namespace ng::store
