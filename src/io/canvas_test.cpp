#include "io/canvas.h"

#include <gtest/gtest.h>

#include <fstream>
#include <iterator>
#include <limits>
#include <string>

#include "io/open_frame.h"
#include "io/test_support.h"

namespace ng::io {
namespace {

std::string bytes_of(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

Result<void> draw(const std::filesystem::path& path) {
  NG_TRY(Canvas canvas, Canvas::create(path, 120, 80, palette::kPaper));
  canvas.rectangle(10, 10, 20, 20, palette::kBlue);
  constexpr double kGap = std::numeric_limits<double>::quiet_NaN();
  canvas.line(std::vector<Spot>{{40, 50.5}, {60, 50.5}, {kGap, 0}, {80, 50.5}, {100, 50.5}}, {palette::kBlack, 1});
  Image<std::uint8_t> grey(4, 4, 1, std::uint8_t{128});
  canvas.picture({100, 10}, grey.plane(), 2);
  canvas.text({10, 75}, "FWHM 2.1 px", {});
  return canvas.commit(Overwrite::kRefuse);
}

TEST(Canvas, DrawsWhereItIsTold) {
  const testing::TempFolder folder;
  const auto path = folder / "a.png";
  ASSERT_TRUE(draw(path).ok());
  auto source = open_frame(path);
  ASSERT_TRUE(source.ok()) << source.error().message();
  Image<float> plane(120, 80);
  ASSERT_TRUE((*source)->read_rows(0, 0, plane.plane()).ok());  // red
  const auto p = plane.plane();
  const float white = p(0, 0);
  EXPECT_EQ(p(20, 20), 0);  // blue holds no red
  EXPECT_EQ(p(9, 20), white);
  EXPECT_EQ(p(30, 20), white);
  EXPECT_EQ(p(50, 50), 0);
  EXPECT_EQ(p(70, 50), white);  // the gap of the line
  EXPECT_EQ(p(90, 50), 0);
  EXPECT_NEAR(p(103, 13) / white, 128.0 / 255, 1e-3);
  EXPECT_EQ(p(109, 13), white);
}

TEST(Canvas, WritesTheSameBytesTwice) {
  const testing::TempFolder folder;
  ASSERT_TRUE(draw(folder / "a.png").ok());
  ASSERT_TRUE(draw(folder / "b.png").ok());
  EXPECT_EQ(bytes_of(folder / "a.png"), bytes_of(folder / "b.png"));
  EXPECT_GT(bytes_of(folder / "a.png").size(), 200u);
}

TEST(Canvas, WritesVectors) {
  const testing::TempFolder folder;
  ASSERT_TRUE(draw(folder / "a.svg").ok());
  const std::string text = bytes_of(folder / "a.svg");
  EXPECT_NE(text.find("M 10 10 L 30 10 L 30 30 L 10 30"), std::string::npos);
  EXPECT_NE(text.find("M 40 50.5 L 60 50.5 M 80 50.5 L 100 50.5"), std::string::npos);
}

TEST(Canvas, RefusesWhatItCannotDo) {
  const testing::TempFolder folder;
  EXPECT_EQ(Canvas::create(folder / "a.png", 0, 10, palette::kPaper).error().code(), Code::kInvalidInput);
  EXPECT_EQ(Canvas::create(folder / "a.gif", 10, 10, palette::kPaper).error().code(), Code::kUnsupported);
  ASSERT_TRUE(draw(folder / "a.png").ok());
  EXPECT_EQ(draw(folder / "a.png").error().code(), Code::kExists);
}

}  // namespace
}  // namespace ng::io
