#include "store/library_index.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <fstream>

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

TEST_F(LibraryIndexTest, ReplacesAllOrNothing) {
  auto index = LibraryIndex::open(file_);
  ASSERT_TRUE(index->add(light(7)).ok());
  EXPECT_FALSE(index->replace_all({light(1), light(1)}).ok());
  EXPECT_EQ(index->search({})->size(), 1U);
  EXPECT_EQ(index->search({})->front(), light(7));
  ASSERT_TRUE(index->replace_all({light(1), light(2)}).ok());
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
