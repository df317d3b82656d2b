#include "app/recorded_path.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <fstream>

namespace ng::app {
namespace {

namespace fs = std::filesystem;

class RecordedPathTest : public testing::Test {
 protected:
  void SetUp() override {
    root_ = fs::temp_directory_path() / ("ng_recorded_" + std::to_string(getpid()));
    fs::create_directories(root_ / "sky/frames/one/light");
    std::ofstream(root_ / "sky/frames/one/light/a.fits") << "x";
    std::ofstream(root_ / "outside.fits") << "x";
  }
  void TearDown() override { fs::remove_all(root_); }
  fs::path root_;
};

TEST_F(RecordedPathTest, FindsAFileWhereItLiesAndWhereTheWorkspaceWentTo) {
  const fs::path a = "frames/one/light/a.fits";
  EXPECT_EQ(recorded_path(root_ / "sky", (root_ / "sky" / a).string()), a);
  EXPECT_EQ(recorded_path(root_ / "sky", "/elsewhere/old-sky/frames/one/light/a.fits"), a);
  EXPECT_EQ(recorded_path(root_ / "sky", "/frames/old/frames/one/light/a.fits"), a);
}

TEST_F(RecordedPathTest, GivesNothingThatIsGoneOrOutside) {
  EXPECT_EQ(recorded_path(root_ / "sky", "/elsewhere/frames/one/light/b.fits"), std::nullopt);
  EXPECT_EQ(recorded_path(root_ / "sky", (root_ / "outside.fits").string()), std::nullopt);
  EXPECT_EQ(recorded_path(root_ / "sky", "/x/frames/../../outside.fits"), std::nullopt);
  EXPECT_EQ(recorded_path(root_ / "sky", ""), std::nullopt);
}

}  // namespace
}  // namespace ng::app
