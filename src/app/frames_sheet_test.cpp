#include "app/frames_sheet.h"

#include <gtest/gtest.h>

namespace ng::app {
namespace {

TEST(FramesSheet, ThumbnailsShowStarsOnADarkSky) {
  Image<float> picture(1000, 600, 1, 100.0f);
  for (int y = 300; y < 310; ++y)
    for (int x = 500; x < 510; ++x) picture.plane()(x, y) = 5000;
  const Image<std::uint8_t> small = thumbnail(picture.plane(), 100, 10);
  ASSERT_EQ(small.width(), 200);  // blocks of 5 pixels
  ASSERT_EQ(small.height(), 120);
  EXPECT_EQ(small.plane()(100, 60), 255);
  EXPECT_LT(small.plane()(0, 0), 80);
  EXPECT_EQ(small.plane()(0, 0), small.plane()(199, 119));
  EXPECT_EQ(small.plane()(102, 60), small.plane()(0, 0));
}

TEST(FramesSheet, SmallPicturesStayAsTheyAre) {
  const Image<float> picture(30, 20, 1, 1.0f);
  const Image<std::uint8_t> small = thumbnail(picture.plane(), 1, 0);
  EXPECT_EQ(small.width(), 30);
  EXPECT_EQ(small.height(), 20);
}

}  // namespace
}  // namespace ng::app
