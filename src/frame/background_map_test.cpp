#include "frame/background_map.h"

#include <gtest/gtest.h>

namespace ng {
namespace {

BackgroundMap plane_map(int width, int height) {
  BackgroundMap map{width, height, 64, Image<float>((width + 63) / 64, (height + 63) / 64),
                    Image<float>((width + 63) / 64, (height + 63) / 64)};
  for (int j = 0; j < map.level.height(); ++j)
    for (int i = 0; i < map.level.width(); ++i) {
      const double x = i * 64 + 31.5, y = j * 64 + 31.5;
      map.level.plane()(i, j) = static_cast<float>(100 + 0.1 * x - 0.05 * y);
      map.noise.plane()(i, j) = 5;
    }
  return map;
}

TEST(BackgroundMap, ReproducesAPlaneEverywhereAndAgreesWithItself) {
  const auto map = plane_map(300, 200);
  std::vector<float> level(300), noise(300);
  for (const int y : {0, 31, 32, 100, 199}) {
    map.evaluate_row(y, level.data(), noise.data());
    for (int x = 0; x < 300; x += 7) {
      EXPECT_NEAR(level[static_cast<std::size_t>(x)], 100 + 0.1 * x - 0.05 * y, 1e-3);
      EXPECT_NEAR(map.level_at(x, y), level[static_cast<std::size_t>(x)], 1e-4);
      EXPECT_FLOAT_EQ(noise[static_cast<std::size_t>(x)], 5);
    }
  }
}

TEST(BackgroundMap, OneBoxIsAConstant) {
  BackgroundMap map{40, 30, 64, Image<float>(1, 1, 1, 7.0f), Image<float>(1, 1, 1, 2.0f)};
  std::vector<float> level(40), noise(40);
  map.evaluate_row(29, level.data(), noise.data());
  EXPECT_FLOAT_EQ(level[39], 7);
  EXPECT_FLOAT_EQ(noise[0], 2);
}

}  // namespace
}  // namespace ng
