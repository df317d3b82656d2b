#include "app/message_read.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>

namespace ng::app {
namespace {

using testing::HasSubstr;
namespace fs = std::filesystem;

struct Inner {
  std::string name;
  double hours = 2;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("hours", self.hours);
  }
};

struct Everything {
  bool on = false;
  int count = 20;
  std::optional<double> limit;
  std::vector<Inner> items;
  Instant at;
  fs::path file;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("on", self.on);
    visit("count", self.count);
    visit("limit", self.limit);
    visit("items", self.items);
    visit("at", self.at);
    visit("file", self.file);
  }
};

class MessageRead : public testing::Test {
 protected:
  void SetUp() override {
    root_ = fs::temp_directory_path() / ("ng_message_" + std::to_string(getpid()));
    fs::create_directories(root_ / "inside" / "deep");
    fs::create_symlink("/etc", root_ / "inside" / "out");
  }
  void TearDown() override { fs::remove_all(root_); }

  std::string refusal(const char* json) {
    Everything e;
    const auto result = MessageReader(root_ / "inside").read(Json::parse(json), "", e);
    return result.ok() ? "" : result.error().message();
  }

  fs::path root_;
};

TEST_F(MessageRead, TakesWhatIsThereAndKeepsTheRest) {
  Everything e;
  const auto json = Json::parse(R"({"on": true, "items": [{"name": "L"}, {"name": "R", "hours": 1.5}],
                                    "at": "2026-01-14T21:30:00", "file": "deep/new.fits"})");
  ASSERT_TRUE(MessageReader(root_ / "inside").read(json, "", e).ok());
  EXPECT_TRUE(e.on);
  EXPECT_EQ(e.count, 20);
  EXPECT_FALSE(e.limit.has_value());
  ASSERT_EQ(e.items.size(), 2u);
  EXPECT_EQ(e.items[0].hours, 2);
  EXPECT_EQ(e.items[1].name, "R");
  EXPECT_EQ(e.at.iso().substr(0, 16), "2026-01-14T21:30");
  EXPECT_EQ(e.file, fs::canonical(root_) / "inside" / "deep" / "new.fits");
}

TEST_F(MessageRead, NullEmptiesAnOptional) {
  Everything e;
  e.limit = 4;
  ASSERT_TRUE(MessageReader(root_).read(Json::parse(R"({"limit": null})"), "", e).ok());
  EXPECT_FALSE(e.limit.has_value());
}

TEST_F(MessageRead, NamesWhatIsWrong) {
  EXPECT_THAT(refusal(R"({"count": "many"})"), HasSubstr(R"(count is "many": give a whole number)"));
  EXPECT_THAT(refusal(R"({"count": 1.5})"), HasSubstr("whole number"));
  EXPECT_THAT(refusal(R"({"items": [{"hours": []}]})"), HasSubstr("items[0].hours is []"));
  EXPECT_THAT(refusal(R"({"counts": 1})"), HasSubstr("no field counts; the fields are on, count, limit"));
  EXPECT_THAT(refusal(R"({"at": "yesterday"})"), HasSubstr("UTC time like"));
  EXPECT_THAT(refusal(R"([1, 2])"), HasSubstr("the request is [1,2]: give an object"));
}

TEST_F(MessageRead, NoPathLeadsOutOfTheWorkspace) {
  for (const char* path : {"../x", "deep/../../x", "/etc/passwd", "out/passwd", "", ".."})
    EXPECT_NE(refusal((std::string(R"({"file": ")") + path + "\"}").c_str()), "") << path;
  EXPECT_EQ(refusal(R"({"file": "deep/../deep/x"})"), "");
}

}  // namespace
}  // namespace ng::app
