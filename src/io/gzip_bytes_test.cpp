#include "io/gzip_bytes.h"

#include <random>

#include "io/test_files.h"

namespace ng::io {
namespace {

using testing::Fails;
using testing::gzipped;
using testing::IsOk;
using testing::put;
using testing::TempFolder;

// Compressible, and different everywhere: 10 MB pass two restart points.
std::string sample(std::size_t size) {
  std::mt19937 random(7);
  std::string text(size, '\0');
  for (char& c : text) c = static_cast<char>('a' + random() % 5);
  return text;
}

std::string read(ByteSource& source, std::uint64_t offset, std::size_t size) {
  std::string out(size, '?');
  const auto n = source.read_at(offset, std::as_writable_bytes(std::span(out)));
  EXPECT_THAT(n, IsOk());
  out.resize(n.ok() ? *n : 0);
  return out;
}

TEST(GzipBytes, AnyPlaceInAnyOrder) {
  const TempFolder folder;
  const std::string text = sample(10'000'000);
  put(folder / "a.gz", gzipped(text));
  auto source = open_bytes(folder / "a.gz");
  ASSERT_THAT(source, IsOk());
  EXPECT_TRUE((*source)->compressed());
  EXPECT_FALSE((*source)->size().has_value());
  for (const std::uint64_t offset : {9'000'000u, 0u, 4'194'303u, 4'194'304u, 4'194'305u, 8'388'600u, 17u, 5'000'000u})
    EXPECT_EQ(read(**source, offset, 100'000), text.substr(offset, 100'000)) << offset;
  EXPECT_EQ(read(**source, 9'999'990, 100), text.substr(9'999'990));
  EXPECT_EQ((*source)->size(), text.size());
  EXPECT_EQ(read(**source, 10'000'000, 10), "");
  EXPECT_EQ(read(**source, 3, 5), text.substr(3, 5));  // still, after the end was seen
  EXPECT_THAT((*source)->verify_to_end(), IsOk());
}

TEST(GzipBytes, MembersInARowAreOneStream) {
  const TempFolder folder;
  put(folder / "a.gz", gzipped("one ") + gzipped("two ") + gzipped("three") + std::string(512, '\0'));
  auto source = open_bytes(folder / "a.gz");
  ASSERT_THAT(source, IsOk());
  EXPECT_EQ(read(**source, 0, 100), "one two three");
  EXPECT_EQ(read(**source, 6, 4), "o th");
}

TEST(GzipBytes, DamageIsAnError) {
  const TempFolder folder;
  const std::string whole = gzipped(sample(1'000'000));
  put(folder / "cut.gz", whole.substr(0, whole.size() / 2));
  std::string flipped = whole;
  flipped[flipped.size() - 6] ^= 1;  // inside the check value
  put(folder / "flipped.gz", flipped);
  std::vector<std::byte> out(1'000'000);
  auto cut = open_bytes(folder / "cut.gz");
  ASSERT_THAT(cut, IsOk());
  EXPECT_THAT((*cut)->read_at(0, out), Fails(Code::kCorrupt, "cut off"));
  auto bad = open_bytes(folder / "flipped.gz");
  ASSERT_THAT(bad, IsOk());
  EXPECT_THAT((*bad)->verify_to_end(), Fails(Code::kCorrupt, "damaged"));
}

TEST(ByteSource, PlainFilesAndWhatIsNone) {
  const TempFolder folder;
  put(folder / "plain [1].dat", "hello");
  auto source = open_bytes(folder / "plain [1].dat");
  ASSERT_THAT(source, IsOk());
  EXPECT_EQ((*source)->size(), 5u);
  EXPECT_EQ(read(**source, 1, 3), "ell");
  EXPECT_EQ(read(**source, 3, 10), "lo");
  EXPECT_THAT(open_bytes(folder / "nothing"), Fails(Code::kNotFound, "no such file"));
  EXPECT_THAT(open_bytes(folder.path()), Fails(Code::kIo, "is a folder"));
  EXPECT_THAT(open_bytes("/dev/null"), Fails(Code::kIo, "not an ordinary file"));
}

}  // namespace
}  // namespace ng::io
