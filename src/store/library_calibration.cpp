#include <SQLiteCpp/SQLiteCpp.h>

#include "store/library_open.h"

namespace ng::store {
namespace {

// In place of one of the same path, whose number it takes: what was known already changes nothing.
constexpr const char* kInsert =
    "INSERT OR REPLACE INTO calibration_masters (id, path, hash, bytes, kind, key, version, frames, single_noise_adu, "
    "camera, filter, width, height, binning_x, binning_y, exposure_s, gain_setting, offset_setting, "
    "sensor_temperature_c, rotation_deg, first_us, last_us, recipe_id) VALUES ((SELECT id FROM calibration_masters "
    "WHERE path = ?1), ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21, "
    "?22)";
constexpr const char* kSelect =
    "SELECT m.path, m.hash, m.bytes, kind, key, version, frames, single_noise_adu, camera, filter, width, height, "
    "binning_x, binning_y, exposure_s, gain_setting, offset_setting, sensor_temperature_c, rotation_deg, first_us, "
    "last_us, recipe_id, r.path, r.hash FROM calibration_masters m JOIN recipes r ON r.id = recipe_id ORDER BY m.path";

}  // namespace

void LibraryIndex::Open::insert(const CalibrationMasterRecord& m) {
  SQLite::Statement s(db, kInsert);
  s.bind(1, m.path);
  s.bind(2, m.hash);
  s.bind(3, m.bytes);
  s.bind(4, std::string(to_string(m.kind)));
  s.bind(5, m.key);
  s.bind(6, m.version);
  s.bind(7, m.frames);
  s.bind(8, m.single_noise_adu);
  s.bind(9, m.camera);
  s.bind(10, m.filter);
  s.bind(11, m.width);
  s.bind(12, m.height);
  s.bind(13, m.binning_x);
  s.bind(14, m.binning_y);
  store::bind(s, 15, m.exposure_s);
  store::bind(s, 16, m.gain_setting);
  store::bind(s, 17, m.offset_setting);
  store::bind(s, 18, m.sensor_temperature_c);
  store::bind(s, 19, m.rotation_deg);
  if (m.first) s.bind(20, m.first->unix_us());
  if (m.last) s.bind(21, m.last->unix_us());
  s.bind(22, insert(m.recipe));
  s.exec();
}

Result<std::vector<CalibrationMasterRecord>> LibraryIndex::calibration_masters() const {
  return open_->attempt([&]() -> Result<std::vector<CalibrationMasterRecord>> {
    std::vector<CalibrationMasterRecord> found;
    SQLite::Statement s(open_->db, kSelect);
    SQLite::Statement inputs(open_->db, "SELECT role, hash FROM recipe_inputs WHERE recipe_id = ? ORDER BY role, hash");
    while (s.executeStep()) {
      CalibrationMasterRecord& m = found.emplace_back();
      m.path = s.getColumn(0).getString();
      m.hash = s.getColumn(1).getString();
      m.bytes = s.getColumn(2).getInt64();
      m.kind = kind_of(s.getColumn(3).getString());
      m.key = s.getColumn(4).getString();
      m.version = s.getColumn(5).getInt();
      m.frames = s.getColumn(6).getInt();
      m.single_noise_adu = s.getColumn(7).getDouble();
      m.camera = s.getColumn(8).getString();
      m.filter = s.getColumn(9).getString();
      m.width = s.getColumn(10).getInt();
      m.height = s.getColumn(11).getInt();
      m.binning_x = s.getColumn(12).getInt();
      m.binning_y = s.getColumn(13).getInt();
      m.exposure_s = number(s.getColumn(14));
      m.gain_setting = number(s.getColumn(15));
      m.offset_setting = number(s.getColumn(16));
      m.sensor_temperature_c = number(s.getColumn(17));
      m.rotation_deg = number(s.getColumn(18));
      m.first = instant(s.getColumn(19));
      m.last = instant(s.getColumn(20));
      m.recipe.path = s.getColumn(22).getString();
      m.recipe.hash = s.getColumn(23).getString();
      inputs.reset();
      inputs.bind(1, s.getColumn(21).getInt64());
      while (inputs.executeStep())
        m.recipe.inputs.push_back({inputs.getColumn(0).getString(), inputs.getColumn(1).getString()});
    }
    return found;
  });
}

}  // namespace ng::store
