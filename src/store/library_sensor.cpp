#include <SQLiteCpp/SQLiteCpp.h>

#include "store/library_open.h"

namespace ng::store {
namespace {

constexpr const char* kResult = R"(
    INSERT INTO sensor_results (
        path, hash, bytes, key, version,
        camera, gain_setting, offset_setting, width, height, binning,
        frames, first_us, last_us, cold, defects, recipe_id)
    VALUES (?, ?, ?, ?, ?,
            ?, ?, ?, ?, ?, ?,
            ?, ?, ?, ?, ?, ?)
    RETURNING id)";
constexpr const char* kChannel = R"(
    INSERT INTO sensor_channels (
        sensor_id, place, channel,
        gain_e_adu, gain_e_adu_error, read_noise_e, read_noise_e_error,
        offset_adu, offset_adu_error, full_well_e, full_well_e_error,
        dsnu_e, dsnu_e_error, prnu_percent, prnu_percent_error,
        read_noise_is_limit, full_well_is_limit, linearity_percent)
    VALUES (?, ?, ?,
            ?, ?, ?, ?,
            ?, ?, ?, ?,
            ?, ?, ?, ?,
            ?, ?, ?))";
constexpr const char* kTemperature = R"(
    INSERT INTO sensor_temperatures (
        sensor_id, place, temperature_c, bias, darks, flats,
        read_noise_e, read_noise_e_error, dark_e_s, dark_e_s_error, glow_e_s, glow_e_s_error,
        hot, hopping)
    VALUES (?, ?, ?, ?, ?, ?,
            ?, ?, ?, ?, ?, ?,
            ?, ?))";
constexpr const char* kResults = R"(
    SELECT s.id, s.path, s.hash, bytes, key, version,
           camera, gain_setting, offset_setting, width, height, binning,
           frames, first_us, last_us, cold, defects, recipe_id, r.path, r.hash
    FROM sensor_results s JOIN recipes r ON r.id = recipe_id
    ORDER BY s.path)";
constexpr const char* kChannels = R"(
    SELECT channel,
           gain_e_adu, gain_e_adu_error, read_noise_e, read_noise_e_error,
           offset_adu, offset_adu_error, full_well_e, full_well_e_error,
           dsnu_e, dsnu_e_error, prnu_percent, prnu_percent_error,
           read_noise_is_limit, full_well_is_limit, linearity_percent
    FROM sensor_channels WHERE sensor_id = ?
    ORDER BY place)";
constexpr const char* kTemperatures = R"(
    SELECT temperature_c, bias, darks, flats,
           read_noise_e, read_noise_e_error, dark_e_s, dark_e_s_error, glow_e_s, glow_e_s_error,
           hot, hopping
    FROM sensor_temperatures WHERE sensor_id = ?
    ORDER BY place)";

// Value and error, in two places that follow each other.
void bind(SQLite::Statement& s, int place, const std::optional<MeasuredRecord>& figure) {
  if (!figure) return;
  s.bind(place, figure->value);
  s.bind(place + 1, figure->error);
}
std::optional<MeasuredRecord> figure(SQLite::Statement& s, int column) {
  const auto value = number(s.getColumn(column)), error = number(s.getColumn(column + 1));
  if (!value || !error) return std::nullopt;
  return MeasuredRecord{*value, *error};
}

void insert_channel(SQLite::Database& db, std::int64_t sensor, int place, const SensorChannelRecord& c) {
  SQLite::Statement s(db, kChannel);
  s.bind(1, sensor);
  s.bind(2, place);
  s.bind(3, c.channel);
  bind(s, 4, c.gain_e_adu);
  bind(s, 6, c.read_noise_e);
  bind(s, 8, c.offset_adu);
  bind(s, 10, c.full_well_e);
  bind(s, 12, c.dsnu_e);
  bind(s, 14, c.prnu_percent);
  s.bind(16, c.read_noise_is_limit ? 1 : 0);
  s.bind(17, c.full_well_is_limit ? 1 : 0);
  store::bind(s, 18, c.linearity_percent);
  s.exec();
}

void insert_temperature(SQLite::Database& db, std::int64_t sensor, int place, const SensorTemperatureRecord& t) {
  SQLite::Statement s(db, kTemperature);
  s.bind(1, sensor);
  s.bind(2, place);
  store::bind(s, 3, t.temperature_c);
  s.bind(4, t.bias);
  s.bind(5, t.darks);
  s.bind(6, t.flats);
  bind(s, 7, t.read_noise_e);
  bind(s, 9, t.dark_e_s);
  bind(s, 11, t.glow_e_s);
  s.bind(13, t.hot);
  s.bind(14, t.hopping);
  s.exec();
}

SensorRecord result_of(SQLite::Statement& s) {
  SensorRecord r;
  r.path = s.getColumn(1).getString();
  r.hash = s.getColumn(2).getString();
  r.bytes = s.getColumn(3).getInt64();
  r.key = s.getColumn(4).getString();
  r.version = s.getColumn(5).getInt();
  r.camera = s.getColumn(6).getString();
  r.gain_setting = number(s.getColumn(7));
  r.offset_setting = number(s.getColumn(8));
  r.width = s.getColumn(9).getInt();
  r.height = s.getColumn(10).getInt();
  r.binning = s.getColumn(11).getInt();
  r.frames = s.getColumn(12).getInt();
  r.first = instant(s.getColumn(13));
  r.last = instant(s.getColumn(14));
  r.cold = s.getColumn(15).getInt64();
  r.defects = s.getColumn(16).getInt64();
  r.recipe.path = s.getColumn(18).getString();
  r.recipe.hash = s.getColumn(19).getString();
  return r;
}

SensorChannelRecord channel_of(SQLite::Statement& s) {
  SensorChannelRecord c;
  c.channel = s.getColumn(0).getString();
  c.gain_e_adu = figure(s, 1);
  c.read_noise_e = figure(s, 3);
  c.offset_adu = figure(s, 5);
  c.full_well_e = figure(s, 7);
  c.dsnu_e = figure(s, 9);
  c.prnu_percent = figure(s, 11);
  c.read_noise_is_limit = s.getColumn(13).getInt() != 0;
  c.full_well_is_limit = s.getColumn(14).getInt() != 0;
  c.linearity_percent = number(s.getColumn(15));
  return c;
}

SensorTemperatureRecord temperature_of(SQLite::Statement& s) {
  SensorTemperatureRecord t;
  t.temperature_c = number(s.getColumn(0));
  t.bias = s.getColumn(1).getInt();
  t.darks = s.getColumn(2).getInt();
  t.flats = s.getColumn(3).getInt();
  t.read_noise_e = figure(s, 4);
  t.dark_e_s = figure(s, 6);
  t.glow_e_s = figure(s, 8);
  t.hot = s.getColumn(10).getInt64();
  t.hopping = s.getColumn(11).getInt64();
  return t;
}

}  // namespace

void LibraryIndex::Open::insert(const SensorRecord& r) {
  remove("sensor_results", r.path);
  SQLite::Statement s(db, kResult);
  s.bind(1, r.path);
  s.bind(2, r.hash);
  s.bind(3, r.bytes);
  s.bind(4, r.key);
  s.bind(5, r.version);
  s.bind(6, r.camera);
  store::bind(s, 7, r.gain_setting);
  store::bind(s, 8, r.offset_setting);
  s.bind(9, r.width);
  s.bind(10, r.height);
  s.bind(11, r.binning);
  s.bind(12, r.frames);
  if (r.first) s.bind(13, r.first->unix_us());
  if (r.last) s.bind(14, r.last->unix_us());
  s.bind(15, r.cold);
  s.bind(16, r.defects);
  s.bind(17, insert(r.recipe));
  s.executeStep();
  const std::int64_t id = s.getColumn(0).getInt64();
  int place = 0;
  for (const SensorChannelRecord& c : r.channels) insert_channel(db, id, place++, c);
  place = 0;
  for (const SensorTemperatureRecord& t : r.temperatures) insert_temperature(db, id, place++, t);
}

Result<std::vector<SensorRecord>> LibraryIndex::sensor_results() const {
  return open_->attempt([&]() -> Result<std::vector<SensorRecord>> {
    std::vector<SensorRecord> found;
    SQLite::Statement s(open_->db, kResults), channels(open_->db, kChannels), temperatures(open_->db, kTemperatures);
    SQLite::Statement inputs(open_->db, "SELECT role, hash FROM recipe_inputs WHERE recipe_id = ? ORDER BY role, hash");
    while (s.executeStep()) {
      SensorRecord& r = found.emplace_back(result_of(s));
      for (SQLite::Statement* part : {&channels, &temperatures, &inputs}) part->reset();
      channels.bind(1, s.getColumn(0).getInt64());
      temperatures.bind(1, s.getColumn(0).getInt64());
      inputs.bind(1, s.getColumn(17).getInt64());
      while (channels.executeStep()) r.channels.push_back(channel_of(channels));
      while (temperatures.executeStep()) r.temperatures.push_back(temperature_of(temperatures));
      while (inputs.executeStep())
        r.recipe.inputs.push_back({inputs.getColumn(0).getString(), inputs.getColumn(1).getString()});
    }
    return found;
  });
}

}  // namespace ng::store
