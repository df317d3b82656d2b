#include "app/export_list.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>

namespace ng::app {
namespace {

namespace fs = std::filesystem;

class ExportListTest : public testing::Test {
 protected:
  ExportListTest() : folder_(fs::temp_directory_path() / ("export_list." + std::to_string(::getpid()))) {
    fs::create_directories(folder_);
  }
  ~ExportListTest() override { fs::remove_all(folder_); }
  Code code_of(const std::string& json) {
    std::ofstream(folder_ / "export.json") << json;
    const auto list = read_export(folder_);
    return list.ok() ? Code::kExists : list.error().code();
  }
  static std::string with_path(const std::string& path, const std::string& hash = std::string(32, 'a')) {
    return R"({"version": 1, "target": "M 33", "files": [{"path": ")" + path + R"(", "xxh3_128": ")" + hash +
           R"(", "bytes": 3}]})";
  }
  fs::path folder_;
};

TEST_F(ExportListTest, ReadsWhatItWrote) {
  const ExportList list{
      "M 33", {{"frames/M 33/a.fits", std::string(32, '0'), 7}, {"masters/m/x.fits", std::string(32, 'f'), 8}}};
  ASSERT_TRUE(write_export(folder_, list).ok());
  const auto back = read_export(folder_);
  ASSERT_TRUE(back.ok());
  EXPECT_EQ(back->target, "M 33");
  ASSERT_EQ(back->files.size(), 2U);
  EXPECT_EQ(back->files[1].path, list.files[1].path);
  EXPECT_EQ(back->files[1].hash, list.files[1].hash);
  EXPECT_EQ(back->files[1].bytes, 8);
  EXPECT_EQ(back->counts().frames, 1);
  EXPECT_EQ(back->counts().masters, 1);
}

TEST_F(ExportListTest, NoPathLeadsOutOfIt) {
  for (const char* path : {"../frames/a", "/etc/passwd", "frames/../../a", "frames/.lock", "frames", "frames/",
                           "site.toml", "library.db", "frames//a", "frames/./a", "", "masters/\\u0007"})
    EXPECT_EQ(code_of(with_path(path)), Code::kCorrupt) << path;
  EXPECT_EQ(code_of(with_path("frames/a")), Code::kExists);  // stands for: read
}

TEST_F(ExportListTest, SaysWhatIsWrong) {
  EXPECT_EQ(read_export(folder_).error().code(), Code::kNotFound);
  for (const char* text : {"", "{", "[]", R"({"version": "1"})", R"({"version": 1})", R"({"version": 1, "target": 3})",
                           R"({"version": 1, "target": "", "files": [{}]})"})
    EXPECT_EQ(code_of(text), Code::kCorrupt) << text;
  EXPECT_EQ(code_of(with_path("frames/a", "zz")), Code::kCorrupt);
  EXPECT_EQ(code_of(R"({"version": 3})"), Code::kUnsupported);
}

}  // namespace
}  // namespace ng::app
