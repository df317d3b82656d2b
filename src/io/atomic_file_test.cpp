#include "io/atomic_file.h"

#include <sys/mount.h>
#include <sys/stat.h>

#include "io/test_support.h"

namespace ng::io {
namespace {

using testing::Fails;
using testing::get;
using testing::IsOk;
using testing::put;
using testing::TempFolder;

std::span<const std::byte> bytes_of(std::string_view text) {
  return std::as_bytes(std::span(text));
}

TEST(AtomicFile, AppearsOnlyWhenCommitted) {
  const TempFolder folder;
  auto file = AtomicFile::create(folder / "a.txt", Overwrite::kRefuse);
  ASSERT_THAT(file, IsOk());
  ASSERT_THAT(file->write_at(3, bytes_of("def")), IsOk());
  ASSERT_THAT(file->write_at(0, bytes_of("abc")), IsOk());
  EXPECT_FALSE(std::filesystem::exists(folder / "a.txt"));
  EXPECT_EQ(folder.files(), 1);  // the temporary one
  ASSERT_THAT(file->commit(), IsOk());
  EXPECT_EQ(get(folder / "a.txt"), "abcdef");
  EXPECT_EQ(folder.files(), 1);
}

TEST(AtomicFile, LeavesNothingWithoutCommit) {
  const TempFolder folder;
  {
    auto file = AtomicFile::create(folder / "a.txt", Overwrite::kRefuse);
    ASSERT_THAT(file, IsOk());
    ASSERT_THAT(file->write_at(0, bytes_of("abc")), IsOk());
    AtomicFile moved = std::move(*file);  // the moved-from one must not remove what the other still needs
    auto second = AtomicFile::create(folder / "b.txt", Overwrite::kRefuse);
    ASSERT_THAT(second, IsOk());
    moved = std::move(*second);  // and the overwritten one goes at once
    EXPECT_EQ(folder.files(), 1);
  }
  EXPECT_EQ(folder.files(), 0);
}

TEST(AtomicFile, NeverOverwritesUnlessAsked) {
  const TempFolder folder;
  put(folder / "a.txt", "precious");
  EXPECT_THAT(AtomicFile::create(folder / "a.txt", Overwrite::kRefuse), Fails(Code::kExists, "exists already"));
  EXPECT_EQ(get(folder / "a.txt"), "precious");

  auto file = AtomicFile::create(folder / "a.txt", Overwrite::kReplace);
  ASSERT_THAT(file, IsOk());
  ASSERT_THAT(file->write_at(0, bytes_of("new")), IsOk());
  EXPECT_EQ(get(folder / "a.txt"), "precious");
  ASSERT_THAT(file->commit(), IsOk());
  EXPECT_EQ(get(folder / "a.txt"), "new");
}

TEST(AtomicFile, TwoWritersOfOneName) {
  const TempFolder folder;
  auto first = AtomicFile::create(folder / "a.txt", Overwrite::kRefuse);
  auto second = AtomicFile::create(folder / "a.txt", Overwrite::kRefuse);
  ASSERT_THAT(first, IsOk());
  ASSERT_THAT(second, IsOk());
  ASSERT_THAT(first->write_at(0, bytes_of("first")), IsOk());
  ASSERT_THAT(second->write_at(0, bytes_of("second")), IsOk());
  ASSERT_THAT(first->commit(), IsOk());
  EXPECT_THAT(second->commit(), Fails(Code::kExists, "exists already"));
  EXPECT_EQ(get(folder / "a.txt"), "first");
}

TEST(AtomicFile, DanglingLinkCountsAsExisting) {
  const TempFolder folder;
  std::filesystem::create_symlink("nowhere", folder / "a.txt");
  EXPECT_THAT(AtomicFile::create(folder / "a.txt", Overwrite::kRefuse), Fails(Code::kExists, "exists already"));
}

TEST(AtomicFile, SaysWhatIsWrongWithThePlace) {
  const TempFolder folder;
  put(folder / "file", "x");
  std::filesystem::create_directory(folder / "sub");
  EXPECT_THAT(AtomicFile::create(folder / "no/a.txt", Overwrite::kRefuse), Fails(Code::kNotFound, "does not exist"));
  EXPECT_THAT(AtomicFile::create(folder / "file/a.txt", Overwrite::kRefuse), Fails(Code::kIo, "is not a folder"));
  EXPECT_THAT(AtomicFile::create(folder / "sub", Overwrite::kReplace), Fails(Code::kExists, "a folder has that name"));
  EXPECT_THAT(AtomicFile::create(folder / std::string(300, 'n'), Overwrite::kRefuse),
              Fails(Code::kIo, "the name is too long"));
}

// Root may write anywhere; the test steps down to an ordinary user for a moment.
TEST(AtomicFile, FolderWithoutPermission) {
  const TempFolder folder;
  std::filesystem::create_directory(folder / "sub");
  ::chmod((folder / "sub").c_str(), 0555);
  ::chmod(folder.path().c_str(), 0755);
  const bool root = ::geteuid() == 0;
  if (root && ::seteuid(65534) != 0) GTEST_SKIP() << "cannot become an ordinary user here";
  const auto file = AtomicFile::create(folder / "sub/a.txt", Overwrite::kRefuse);
  if (root) {
    ASSERT_EQ(::seteuid(0), 0);
  }
  EXPECT_THAT(file, Fails(Code::kIo, "permission denied"));
}

// A disk of 64 kB, read-only afterwards.
TEST(AtomicFile, FullAndReadOnlyDisk) {
  const TempFolder folder;
  const std::string disk = (folder / "disk").string();
  std::filesystem::create_directory(disk);
  if (::mount("none", disk.c_str(), "tmpfs", 0, "size=64k") != 0)
    GTEST_SKIP() << "mounting a small disk is not permitted";
  {
    auto file = AtomicFile::create(disk + "/a.txt", Overwrite::kRefuse);
    EXPECT_THAT(file, IsOk());
    if (file.ok()) {
      EXPECT_THAT(file->reserve(1 << 20), Fails(Code::kIo, "the disk is full"));
      const std::string much(1 << 20, 'x');
      EXPECT_THAT(file->write_at(0, bytes_of(much)), Fails(Code::kIo, "the disk is full"));
    }
  }
  EXPECT_TRUE(std::filesystem::is_empty(disk));
  EXPECT_EQ(::mount("none", disk.c_str(), "tmpfs", MS_REMOUNT | MS_RDONLY, "size=64k"), 0);
  EXPECT_THAT(AtomicFile::create(disk + "/b.txt", Overwrite::kRefuse), Fails(Code::kIo, "read-only"));
  EXPECT_EQ(::umount(disk.c_str()), 0);
}

}  // namespace
}  // namespace ng::io
