#include "io/byte_source.h"

#include <algorithm>
#include <array>
#include <fstream>

#include "io/test_support.h"

namespace ng::io {
namespace {

using testing::Fails;
using testing::IsOk;
using testing::put;
using testing::TempFolder;

// Descriptors of this process that lead to the file.
long times_open(const std::filesystem::path& path) {
  const std::filesystem::directory_iterator descriptors("/proc/self/fd");
  return std::count_if(begin(descriptors), end(descriptors), [&](const auto& entry) {
    std::error_code closed_meanwhile;
    return std::filesystem::read_symlink(entry.path(), closed_meanwhile) == path;
  });
}

TEST(ByteSource, StaysOpenOnlyWhereAsked) {
  const TempFolder folder;
  const std::filesystem::path path = std::filesystem::canonical(folder / ".") / "a";
  put(path, "0123456789");
  auto source = open_bytes(path);
  ASSERT_THAT(source, IsOk());
  std::array<std::byte, 4> out{};
  ASSERT_THAT((*source)->read_at(2, out), IsOk());
  EXPECT_EQ(times_open(path), 0);
  (*source)->keep_open(true);
  ASSERT_THAT((*source)->read_at(2, out), IsOk());
  ASSERT_THAT((*source)->read_at(6, out), IsOk());
  EXPECT_EQ(out[0], std::byte{'6'});
  EXPECT_EQ(times_open(path), 1);
  (*source)->keep_open(false);
  EXPECT_EQ(times_open(path), 0);
}

TEST(ByteSource, AChangeIsToldWhetherOpenOrNot) {
  for (const bool kept : {false, true}) {
    const TempFolder folder;
    put(folder / "a", "0123456789");
    auto source = open_bytes(folder / "a");
    ASSERT_THAT(source, IsOk());
    (*source)->keep_open(kept);
    std::array<std::byte, 4> out{};
    ASSERT_THAT((*source)->read_at(0, out), IsOk());
    std::ofstream(folder / "a", std::ios::app) << "more";
    EXPECT_THAT((*source)->read_at(0, out), Fails(Code::kIo, "changed"));
  }
}

}  // namespace
}  // namespace ng::io
