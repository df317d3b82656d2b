// Camera raw through LibRaw. No maker's own raw file can be shipped, so the files are small DNGs made here.
#include "io/raw_source.h"

#include "io/test_files.h"

namespace ng::io {
namespace {

using ::testing::Contains;
using testing::Fails;
using ::testing::HasSubstr;
using testing::IsOk;
using testing::pixels_of;
using testing::put;
using testing::small_dng;
using testing::SmallDng;
using testing::TempFolder;

constexpr int kWidth = 40;
constexpr int kHeight = 30;

TEST(RawSource, FactsOfADng) {
  const TempFolder folder;
  put(folder / "light_1.dng", small_dng(kWidth, kHeight));
  const auto source = open_frame(folder / "light_1.dng");
  ASSERT_THAT(source, IsOk());
  const FrameFacts& facts = (*source)->facts();
  EXPECT_EQ(facts.width, kWidth);
  EXPECT_EQ(facts.height, kHeight);
  EXPECT_EQ(facts.planes, 1);
  EXPECT_EQ(facts.kind, FrameKind::kLight);
  EXPECT_EQ(facts.bayer, BayerPattern::kRggb);
  EXPECT_EQ(facts.black_level_adu, 512.0);
  EXPECT_FALSE(facts.black_level_cell_adu.has_value());
  EXPECT_EQ(facts.saturation_adu, 16383.0);
  EXPECT_EQ(facts.exposure_s, 120.0);
  EXPECT_EQ(facts.gain_setting, 800.0);
  EXPECT_EQ(facts.focal_length_mm, 200.0);
  EXPECT_EQ(facts.aperture_mm, 50.0);
  EXPECT_EQ(facts.camera, "Example One");
  ASSERT_TRUE(facts.start.has_value());
  EXPECT_EQ(facts.start->iso(), "2026-01-14T21:03:00.000");
  EXPECT_THAT(facts.warnings, Contains(HasSubstr("no time zone")));
  EXPECT_FALSE(facts.calibrated);
}

TEST(RawSource, PixelsAsTheSensorGaveThem) {
  const TempFolder folder;
  put(folder / "a.dng", small_dng(kWidth, kHeight));
  const Image<float> image = pixels_of(folder / "a.dng");
  ASSERT_EQ(image.width(), kWidth);
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) ASSERT_EQ(image.plane()(x, y), static_cast<float>(600 + 3 * x + 100 * y));
  auto source = open_frame(folder / "a.dng");
  ASSERT_THAT(source, IsOk());
  Image<float> rows(kWidth, 2);
  ASSERT_THAT((*source)->read_rows(0, 17, rows.plane()), IsOk());
  EXPECT_EQ(rows.plane()(5, 1), static_cast<float>(600 + 15 + 1800));
}

TEST(RawSource, PatternAndBlackBelongToTheFirstVisiblePixel) {
  const TempFolder folder;
  SmallDng dng;
  dng.pattern = {1, 0, 2, 1};  // G R / B G, counted from the corner of the active area (DNG specification: CFAPattern)
  dng.black = {100, 101, 102, 103};
  dng.border = 2;
  put(folder / "a.dng", small_dng(kWidth, kHeight, dng));
  const auto source = open_frame(folder / "a.dng");
  ASSERT_THAT(source, IsOk());
  const FrameFacts& facts = (*source)->facts();
  EXPECT_EQ(facts.width, kWidth - 2);
  EXPECT_EQ(facts.height, kHeight - 2);
  EXPECT_EQ(facts.bayer, BayerPattern::kGrbg);
  EXPECT_EQ(facts.black_level_adu, 101.5);
  ASSERT_TRUE(facts.black_level_cell_adu.has_value());
  EXPECT_THAT(*facts.black_level_cell_adu, ::testing::ElementsAre(100, 101, 102, 103));
  const Image<float> image = pixels_of(folder / "a.dng");
  EXPECT_EQ(image.plane()(0, 0), static_cast<float>(600 + 3 * 2 + 100 * 2));
}

// LibRaw begins the visible area at even rows and columns: an odd corner moves by one, and the pattern with it.
TEST(RawSource, OddCornerOfTheActiveArea) {
  const TempFolder folder;
  SmallDng dng;
  dng.pattern = {1, 0, 2, 1};  // of the pixel (3, 3); (4, 4) is the second green, with blue beside and red below it
  dng.border = 3;
  put(folder / "a.dng", small_dng(kWidth, kHeight, dng));
  const auto source = open_frame(folder / "a.dng");
  ASSERT_THAT(source, IsOk());
  EXPECT_EQ((*source)->facts().width, kWidth - 4);
  EXPECT_EQ((*source)->facts().bayer, BayerPattern::kGbrg);
  EXPECT_EQ(pixels_of(folder / "a.dng").plane()(0, 0), static_cast<float>(600 + 3 * 4 + 100 * 4));
}

TEST(RawSource, EveryPattern) {
  const TempFolder folder;
  for (const auto& [cells, pattern] : {std::pair{std::array<std::uint8_t, 4>{0, 1, 1, 2}, BayerPattern::kRggb},
                                       {{2, 1, 1, 0}, BayerPattern::kBggr},
                                       {{1, 0, 2, 1}, BayerPattern::kGrbg},
                                       {{1, 2, 0, 1}, BayerPattern::kGbrg}}) {
    SmallDng dng;
    dng.pattern = cells;
    put(folder / "a.dng", small_dng(kWidth, kHeight, dng));
    const auto source = open_frame(folder / "a.dng");
    ASSERT_THAT(source, IsOk());
    EXPECT_EQ((*source)->facts().bayer, pattern);
  }
}

TEST(RawSource, RefusesWhatIsNoMosaic) {
  const TempFolder folder;
  SmallDng linear;
  linear.photometric = 34892;  // LinearRaw: three values per pixel, demosaiced already
  put(folder / "a.dng", small_dng(kWidth, kHeight, linear));
  EXPECT_THAT(open_frame(folder / "a.dng"), Fails(Code::kUnsupported, "demosaiced already"));
}

TEST(RawSource, CutOff) {
  const TempFolder folder;
  const std::string whole = small_dng(kWidth, kHeight);
  put(folder / "a.dng", whole.substr(0, 200));
  EXPECT_FALSE(open_frame(folder / "a.dng").ok());
}

}  // namespace
}  // namespace ng::io
