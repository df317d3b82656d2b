#include "app/folder_walk.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <fstream>
#include <string>

namespace ng::app {
namespace {

namespace fs = std::filesystem;

class FolderWalk : public ::testing::Test {
 protected:
  FolderWalk() : root_(fs::temp_directory_path() / ("ng_folder_walk_" + std::to_string(::getpid()))) {
    fs::remove_all(root_);
    fs::create_directories(root_ / "night" / "light");
  }
  ~FolderWalk() override { fs::remove_all(root_); }
  void file(const std::string& name) const {
    fs::create_directories((root_ / name).parent_path());
    std::ofstream(root_ / name) << name;
  }
  void link(const std::string& target, const std::string& name) const {
    fs::create_directory_symlink(root_ / target, root_ / name);
  }
  [[nodiscard]] std::vector<std::string> found(const std::string& skip = "") const {
    std::vector<std::string> names;
    for (const fs::path& p : files_of_night(root_ / "night", skip.empty() ? fs::path() : root_ / skip))
      names.push_back(p.lexically_relative(root_ / "night").generic_string());
    return names;
  }
  fs::path root_;
};

using Names = std::vector<std::string>;

TEST_F(FolderWalk, FollowsLinksToDirectoriesAndFiles) {
  file("night/light/a.fits");
  file("disk/darks/deep/d.fits");
  file("disk/b.fits");
  link("disk/darks", "night/dark");
  fs::create_symlink(root_ / "disk" / "b.fits", root_ / "night" / "b.fits");
  fs::create_symlink(root_ / "nowhere", root_ / "night" / "broken");
  EXPECT_EQ(found(), (Names{"b.fits", "dark/deep/d.fits", "light/a.fits"}));
}

TEST_F(FolderWalk, ADirectoryIsEnteredOnceByItsOwnPath) {
  file("night/light/a.fits");
  file("disk/d.fits");
  link("night/light", "night/again");  // sorted before the real one
  link("disk", "night/one");
  link("disk", "night/two");
  EXPECT_EQ(found(), (Names{"light/a.fits", "one/d.fits"}));
}

TEST_F(FolderWalk, LoopsEndAndNothingAboveIsRead) {
  file("night/light/a.fits");
  file("elsewhere.fits");
  file("disk/d.fits");
  link("night", "night/light/up");
  link(".", "night/root");
  link("disk", "night/disk");
  link("disk", "disk/self");
  link("night/light", "disk/back");
  EXPECT_EQ(found(), (Names{"disk/d.fits", "light/a.fits"}));
}

TEST_F(FolderWalk, SkipsTheFolderOfMastersWhateverLeadsThere) {
  file("night/light/a.fits");
  file("night/masters/sharp/m.fits");
  file("out/m.fits");
  EXPECT_EQ(found("night/masters"), Names{"light/a.fits"});
  link("out", "night/link");
  EXPECT_EQ(found("out"), (Names{"light/a.fits", "masters/sharp/m.fits"}));
}

}  // namespace
}  // namespace ng::app
