#include "app/library_layout.h"

#include <gtest/gtest.h>

namespace ng::app {
namespace {

store::LibraryFrame light() {
  store::LibraryFrame f;
  f.kind = FrameKind::kLight;
  f.target = "M 33";
  f.filter = "Ha";
  f.night = "2027-01-05";
  f.exposure_s = 300;
  return f;
}

TEST(LibraryLayout, APersonCanReadIt) {
  EXPECT_EQ(*library_path(kDefaultLayout, light(), "a.fits"), "M 33/Ha/2027-01-05/light/a.fits");
  EXPECT_EQ(*library_path("{kind}/{exposure_s} {gain}/x {name}", light(), "a.fits"), "light/300s none/x a.fits");
  store::LibraryFrame dark;
  dark.kind = FrameKind::kDark;
  EXPECT_EQ(*library_path(kDefaultLayout, dark, "d.fits"), "calibration/none/none/dark/d.fits");
}

TEST(LibraryLayout, NothingInAHeaderLeavesTheFolder) {
  auto f = light();
  f.target = "../../etc";
  f.filter = "..";
  EXPECT_EQ(*library_path(kDefaultLayout, f, ".hidden"), "_.-..-etc/_./2027-01-05/light/_hidden");
}

TEST(LibraryLayout, WrongPatternsAreTold) {
  for (const char* wrong : {"{target}", "{nonsense}/{name}", "{name", "../{name}", "a//{name}", "/{name}", ""})
    EXPECT_EQ(library_path(wrong, light(), "a").error().code(), Code::kInvalidInput) << wrong;
}

// RFC 3629: a lone Latin-1 byte, an overlong slash (C0 AF) and a surrogate (ED A0 80) are no UTF-8.
TEST(LibraryLayout, AnyBytesBecomeReadable) {
  EXPECT_EQ(readable("caf\xE9"), "caf%E9");
  EXPECT_EQ(readable("caf\xC3\xA9"), "caf\xC3\xA9");
  EXPECT_EQ(readable("\xC0\xAF\xED\xA0\x80\n"), "%C0%AF%ED%A0%80%0A");
}

TEST(LibraryLayout, LongNamesKeepTheirExtension) {
  std::string name;
  for (int i = 0; i < 100; ++i) name += "\xE2\x98\x85";  // 300 bytes
  const std::string path = *library_path("{name}", light(), name + ".fits");
  EXPECT_LE(path.size(), 255U);
  EXPECT_TRUE(path.ends_with("\xE2\x98\x85.fits"));
  EXPECT_LE(numbered(path, 12).size(), 255U);
  EXPECT_TRUE(numbered(path, 12).ends_with("\xE2\x98\x85-12.fits"));
  EXPECT_EQ(numbered("x/a.fits", 2), "x/a-2.fits");
}

}  // namespace
}  // namespace ng::app
