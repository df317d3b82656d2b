#include "store/library_index.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <fstream>

#include "store/schema.h"

namespace ng::store {
namespace {

namespace fs = std::filesystem;

class LibraryIndexTest : public testing::Test {
 protected:
  LibraryIndexTest()
      : folder_(fs::temp_directory_path() / ("library_index." + std::to_string(::getpid()))), file_(folder_ / "x.db") {
    fs::create_directories(folder_);
  }
  ~LibraryIndexTest() override { fs::remove_all(folder_); }
  fs::path folder_, file_;
};

LibraryFrame light(int i) {
  LibraryFrame f;
  f.path = "M 33/Ha/2027-01-05/light/" + std::to_string(i) + ".fits";
  f.hash = "hash" + std::to_string(i);
  f.bytes = 100;
  f.kind = FrameKind::kLight;
  f.target = "M 33";
  f.night = i < 2 ? "2027-01-05" : "2027-01-06";
  f.filter = "Ha";
  f.exposure_s = 300;
  f.start = Instant::from_unix_us(i);
  f.telescope = i == 1 ? "short tube" : "";
  f.camera = "chip";
  f.focal_length_mm = 400;
  if (i == 1) f.site_latitude_deg = 47.123, f.site_longitude_deg = -8.5;
  return f;
}

TEST_F(LibraryIndexTest, KeepsEveryFactAndFindsByEach) {
  {
    auto index = LibraryIndex::open(file_);
    ASSERT_TRUE(index.ok());
    for (int i = 0; i < 3; ++i) ASSERT_TRUE(index->add(light(i)).ok());
    EXPECT_EQ(index->add(light(0)).error().code(), Code::kExists);
  }
  auto index = LibraryIndex::open(file_);
  ASSERT_TRUE(index.ok());
  EXPECT_EQ(**index->by_hash("hash1"), light(1));
  EXPECT_EQ(index->search({.target = "m 33"})->size(), 3U);
  EXPECT_EQ(index->search({.to_night = "2027-01-05"})->size(), 2U);
  EXPECT_EQ(index->search({.from_night = "2027-01-06"})->size(), 1U);
  EXPECT_TRUE(index->search({.filter = "OIII"})->empty());
  EXPECT_TRUE(*index->has_like(100, Instant::from_unix_us(2)));
  EXPECT_FALSE(*index->has_like(100, std::nullopt));
  const auto hours = index->hours();
  ASSERT_EQ(hours->size(), 1U);
  EXPECT_EQ(hours->front().nights, 2);
  EXPECT_DOUBLE_EQ(hours->front().exposure_s, 900);
}

TEST_F(LibraryIndexTest, KeepsEveryFactOfACalibrationMasterAndReplacesItByPath) {
  CalibrationMasterRecord dark;
  dark.path = "masters/calibration/dark.fits", dark.hash = "h", dark.bytes = 7, dark.kind = FrameKind::kDark;
  dark.key = "k", dark.version = 3, dark.frames = 2, dark.single_noise_adu = 0.1F;
  dark.camera = "chip", dark.width = 40, dark.height = 30, dark.binning_x = 2, dark.binning_y = 1;
  dark.exposure_s = 300, dark.gain_setting = 100, dark.offset_setting = 50, dark.sensor_temperature_c = -10.25;
  dark.first = Instant::from_unix_us(5), dark.last = Instant::from_unix_us(9);
  dark.recipe = {"masters/calibration/dark.calibration.json", "r", {{"calibration", "a"}, {"calibration", "b"}}};
  CalibrationMasterRecord flat;
  flat.path = "masters/calibration/flat.fits", flat.kind = FrameKind::kFlat, flat.filter = "Ha", flat.rotation_deg = 90;
  flat.recipe.path = "masters/calibration/flat.calibration.json";
  auto index = LibraryIndex::open(file_);
  ASSERT_TRUE(index->enter({{}, {}, {flat, dark}}).ok());
  EXPECT_EQ(*index->calibration_masters(), (std::vector{dark, flat}));
  dark.recipe.inputs.pop_back();
  dark.frames = 1;
  ASSERT_TRUE(index->enter({{}, {}, {dark}}).ok());
  EXPECT_EQ(*index->calibration_masters(), (std::vector{dark, flat}));
  ASSERT_TRUE(index->replace_all({}, {{}, {}, {flat}}).ok());
  EXPECT_EQ(*index->calibration_masters(), std::vector{flat});
}

TEST_F(LibraryIndexTest, KeepsEveryFigureOfASensorAndReplacesItByPath) {
  SensorRecord a;
  a.path = "sensors/a.sensor.json", a.hash = "h", a.bytes = 9, a.key = "k", a.version = 2, a.camera = "chip";
  a.gain_setting = 100, a.offset_setting = 50, a.width = 40, a.height = 30, a.binning = 2, a.frames = 3;
  a.first = Instant::from_unix_us(5), a.last = Instant::from_unix_us(9), a.cold = 4, a.defects = 11;
  a.recipe = {a.path, a.hash, {{"calibration", "x"}, {"calibration", "y"}}};
  const SensorChannelRecord all{"all",      {{0.5, 0.01}}, {{2, 0.1}}, {{500, 0.2}}, {{2e4, 30}},
                                {{1, 0.2}}, {{0.6, 0.1}},  true,       false,        0.3};
  SensorChannelRecord red;
  red.channel = "R", red.full_well_is_limit = true;
  a.channels = {all, red};
  a.temperatures = {{-10.5, 3, 4, 20, {{2, 0.1}}, {{0.01, 0.001}}, {{0.2, 0.05}}, 7, 8},
                    {std::nullopt, 1, 0, 0, {}, {}, {}, 0, 0}};
  SensorRecord b;
  b.path = "sensors/b.sensor.json", b.recipe.path = b.path;
  auto index = LibraryIndex::open(file_);
  ASSERT_TRUE(index->enter({{}, {}, {}, {b, a}}).ok());
  EXPECT_EQ(*index->sensor_results(), (std::vector{a, b}));
  a.channels.pop_back(), a.temperatures.pop_back(), a.recipe.inputs.pop_back();
  ASSERT_TRUE(index->enter({{}, {}, {}, {a}}).ok());
  EXPECT_EQ(*index->sensor_results(), (std::vector{a, b}));
  ASSERT_TRUE(index->replace_all({}, {{}, {}, {}, {b}}).ok());
  EXPECT_EQ(*index->sensor_results(), std::vector{b});
  SQLite::Database whole(file_.string());
  SQLite::Statement orphans(whole, "SELECT count(*) FROM sensor_channels");
  ASSERT_TRUE(orphans.executeStep());
  EXPECT_EQ(orphans.getColumn(0).getInt(), 0);
}

TEST_F(LibraryIndexTest, PartsOfAListMakeTheWholeList) {
  auto index = LibraryIndex::open(file_);
  for (const int i : {4, 0, 3, 1, 2}) ASSERT_TRUE(index->add(light(i)).ok());
  const auto whole = index->search_measured({.target = "M 33"});
  ASSERT_EQ(whole->size(), 5U);
  std::vector<std::string> paths;
  FrameSearch part{.target = "M 33", .at_most = 2};
  for (const std::size_t size : {2U, 2U, 1U, 0U}) {
    const auto found = index->search_measured(part);
    ASSERT_EQ(found->size(), size);
    EXPECT_EQ(*index->count(part), 5);
    for (const FoundFrame& f : *found) paths.push_back(f.facts.path);
    part.after_path = paths.back();
  }
  for (std::size_t i = 0; i < paths.size(); ++i) EXPECT_EQ(paths[i], (*whole)[i].facts.path);
}

TEST_F(LibraryIndexTest, ReplacesAllOrNothing) {
  auto index = LibraryIndex::open(file_);
  ASSERT_TRUE(index->add(light(7)).ok());
  EXPECT_FALSE(index->replace_all({light(1), light(1)}, {}).ok());
  EXPECT_EQ(index->search({})->size(), 1U);
  EXPECT_EQ(index->search({})->front(), light(7));
  ASSERT_TRUE(index->replace_all({light(1), light(2)}, {}).ok());
  EXPECT_EQ(index->search({})->size(), 2U);
}

TEST_F(LibraryIndexTest, FramesMayExchangeTheirPaths) {
  auto index = LibraryIndex::open(file_);
  for (int i = 0; i < 3; ++i) ASSERT_TRUE(index->add(light(i)).ok());
  ASSERT_TRUE(index->move_all({{"hash0", light(1).path}, {"hash1", light(0).path}}).ok());
  EXPECT_EQ((*index->by_path(light(0).path))->hash, "hash1");
  EXPECT_EQ((*index->by_hash("hash0"))->path, light(1).path);
  EXPECT_EQ(index->move_all({{"hash0", light(2).path}}).error().code(), Code::kExists);
  EXPECT_EQ((*index->by_hash("hash0"))->path, light(1).path);
}

TEST_F(LibraryIndexTest, FindsLightsThatNameNoTarget) {
  auto index = LibraryIndex::open(file_);
  LibraryFrame nameless = light(0), dark = light(1);
  nameless.target = dark.target = "";
  dark.kind = FrameKind::kDark;
  for (const LibraryFrame& f : {nameless, dark, light(2)}) ASSERT_TRUE(index->add(f).ok());
  ASSERT_EQ(index->search({.target = kNoTarget})->size(), 1U);
  EXPECT_EQ(index->search({.target = kNoTarget})->front(), nameless);
}

MasterRecord master(const std::string& path) {
  MasterRecord m;
  m.path = path;
  m.hash = "master";
  m.target = "M 33";
  m.filter = "Ha";
  m.frames = 2;
  m.recipe = {path + ".recipe", "recipe", {{"light", "hash0"}, {"light", "hash1"}, {"calibration", "dark"}}};
  m.grades = {{"hash0", true, 1.0, ""}, {"hash1", true, 0.4, ""}, {"hash2", false, 0.01, "cloud"}};
  m.measures_path = path + ".measures";
  for (int i = 0; i < 3; ++i) {
    MeasureRecord q;
    q.frame_hash = "hash" + std::to_string(i);
    q.key = "key" + std::to_string(i);
    q.version = 3;
    q.stars = 100 * i;
    if (i > 0) q.fwhm_px = 2.0 + i;
    m.measures.push_back(q);
  }
  return m;
}

TEST_F(LibraryIndexTest, IsSearchedByWhatWasMeasured) {
  auto index = LibraryIndex::open(file_);
  for (int i = 0; i < 4; ++i) ASSERT_TRUE(index->add(light(i)).ok());
  ASSERT_TRUE(
      index->enter({{master("masters/a.fits")}, {{"pictures/a.png", "p", 5, {"r.toml", "r", {{"master", "master"}}}}}})
          .ok());
  const auto paths = [&](const FrameSearch& what) {
    std::string all;
    const auto found = index->search(what);
    for (const LibraryFrame& f : *found) all += f.hash.back();
    return all;
  };
  EXPECT_EQ(paths({.max_fwhm_px = 3.5}), "1");
  EXPECT_EQ(paths({.min_stars = 100}), "12");
  EXPECT_EQ(paths({.max_fwhm_px = 3.5, .min_stars = 150}), "");  // of one measure, both
  EXPECT_EQ(paths({.min_worth = 0.4}), "01");
  EXPECT_EQ(paths({.from_night = "2027-01-06", .min_stars = 1}), "2");
  const auto found = index->search_measured({});
  ASSERT_EQ(found->size(), 4U);
  EXPECT_EQ(found->at(1).measured.stars, 100);
  EXPECT_EQ(found->at(1).measured.fwhm_px, 3.0);
  EXPECT_EQ(found->at(1).measured.worth, 0.4);
  EXPECT_FALSE(found->at(0).measured.fwhm_px);
  EXPECT_FALSE(found->at(3).measured.stars);
  EXPECT_EQ(*index->measure_files({.target = "M 33"}), std::vector<std::string>{"masters/a.fits.measures"});
}

TEST_F(LibraryIndexTest, AMasterThatIsMadeAgainTakesThePlaceOfTheOldOne) {
  auto index = LibraryIndex::open(file_);
  for (int i = 0; i < 2; ++i) ASSERT_TRUE(index->add(light(i)).ok());
  ASSERT_TRUE(index->enter({{master("masters/a.fits"), master("masters/b.fits")}, {}}).ok());
  MasterRecord again = master("masters/a.fits");
  again.recipe.inputs.pop_back();
  again.measures.pop_back();
  again.grades.clear();
  ASSERT_TRUE(index->enter({{again}, {}}).ok());
  SQLite::Database db(file_.string());
  const auto count = [&](const char* what) {
    return db.execAndGet(std::string("SELECT count(*) FROM ") + what).getInt();
  };
  EXPECT_EQ(count("masters"), 2);
  EXPECT_EQ(count("recipes"), 2);
  EXPECT_EQ(count("recipe_inputs"), 5);
  EXPECT_EQ(count("measures"), 5);
  EXPECT_EQ(count("grades"), 3);
  EXPECT_EQ(count("quality"), 4);  // two frames, two masters
  EXPECT_EQ(count("pragma_foreign_key_check"), 0);
}

// What triggers keep against a count of all frames, after every kind of change.
constexpr const char* kRecount =
    "SELECT coalesce(t.name, ''), f.filter, count(*), count(DISTINCT f.night_id), "
    "sum(CAST(round(coalesce(f.exposure_s, 0) * 1e6) AS INTEGER)) / 1e6 FROM frames f LEFT JOIN targets t ON t.id = "
    "f.target_id WHERE f.kind = 'light' OR f.target_id IS NOT NULL GROUP BY f.target_id, f.filter";

void expect_hours_as_counted(const fs::path& file, const char* after) {
  SQLite::Database db(file.string());
  for (const char* order : {"SELECT * FROM hours EXCEPT ", ""}) {
    const std::string left =
        *order != 0 ? std::string(order) + kRecount : std::string(kRecount) + " EXCEPT SELECT * FROM hours";
    SQLite::Statement s(db, left);
    EXPECT_FALSE(s.executeStep()) << after << ": " << s.getColumn(0).getString() << " " << s.getColumn(4).getDouble();
  }
}

TEST_F(LibraryIndexTest, HoursThatAreKeptAreThoseThatAreCounted) {
  auto index = LibraryIndex::open(file_);
  for (int i = 0; i < 60; ++i) {
    LibraryFrame f = light(i);
    f.target = i % 5 == 0 ? "" : "T" + std::to_string(i % 4);
    f.filter = i % 3 == 0 ? "Ha" : "L";
    f.night = i % 7 == 0 ? "" : "2027-01-0" + std::to_string(1 + i % 6);
    f.kind = i % 11 == 0 ? FrameKind::kUnknown : i % 13 == 0 ? FrameKind::kDark : FrameKind::kLight;
    if (i % 9 == 0)
      f.exposure_s.reset();
    else
      f.exposure_s = 0.1 * i;
    ASSERT_TRUE(index->add(f).ok());
  }
  expect_hours_as_counted(file_, "adding");
  SQLite::Database db(file_.string(), SQLite::OPEN_READWRITE);
  EXPECT_GT(db.execAndGet("SELECT count(*) FROM hours").getInt(), 6);
  for (const char* change :
       {"UPDATE frames SET filter = 'OIII' WHERE id % 4 = 0", "UPDATE frames SET target_id = NULL WHERE id % 6 = 0",
        "UPDATE frames SET kind = 'dark' WHERE id % 5 = 1",
        "UPDATE frames SET exposure_s = exposure_s * 1.7, night_id = 1",
        "UPDATE frames SET kind = 'light', exposure_s = 3 WHERE id < 20", "UPDATE frames SET path = path || 'x'",
        "DELETE FROM frames WHERE id % 3 = 0", "DELETE FROM frames"}) {
    db.exec(change);
    expect_hours_as_counted(file_, change);
  }
  EXPECT_EQ(db.execAndGet("SELECT count(*) FROM night_sums").getInt(), 0);
}

TEST_F(LibraryIndexTest, OlderTablesBecomeThePresentOnes) {
  for (std::size_t version = 0; version < kMigrations.size(); ++version) {
    fs::remove(file_);
    {
      SQLite::Database db(file_.string(), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
      for (std::size_t i = 0; i < version; ++i) db.exec(kMigrations[i]);
      db.exec("PRAGMA user_version = " + std::to_string(version));
      if (version > 0)
        db.exec(
            "INSERT INTO targets VALUES (1, 'M 33'); INSERT INTO nights VALUES (1, '2027-01-05'); "
            "INSERT INTO frames (path, hash, bytes, kind, target_id, night_id, filter, camera, width, height, "
            "binning_x, "
            "binning_y, exposure_s) VALUES ('a', 'ha', 9, 'light', 1, 1, 'L', 'c', 4, 3, 1, 1, 0.25), "
            "('b', 'hb', 9, 'light', 1, 1, 'L', 'c', 4, 3, 1, 1, 0.5)");
    }
    auto index = LibraryIndex::open(file_);
    ASSERT_TRUE(index.ok()) << version;
    expect_hours_as_counted(file_, "migration");
    if (version == 0) continue;
    ASSERT_EQ(index->hours()->size(), 1U);
    EXPECT_EQ(index->hours()->front().exposure_s, 0.75);
    EXPECT_EQ(index->search({})->size(), 2U);
  }
}

TEST_F(LibraryIndexTest, SaysThatAFileIsNoDatabase) {
  std::ofstream(file_) << std::string(5000, 'x');
  const auto index = LibraryIndex::open(file_);
  ASSERT_FALSE(index.ok());
  EXPECT_EQ(index.error().code(), Code::kCorrupt);
}

TEST_F(LibraryIndexTest, ABackupIsWholeAndOverwritesNothing) {
  auto index = LibraryIndex::open(file_);
  ASSERT_TRUE(index->add(light(1)).ok());
  ASSERT_TRUE(index->backup(folder_ / "copy.db").ok());
  EXPECT_EQ(index->backup(folder_ / "copy.db").error().code(), Code::kExists);
  EXPECT_EQ(LibraryIndex::open(folder_ / "copy.db")->search({})->size(), 1U);
}

}  // namespace
}  // namespace ng::store
