#include "frame/background_map.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <utility>
#include <vector>

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
  std::vector<float> level(300);
  for (const int y : {0, 31, 32, 100, 199}) {
    mesh_row(map.level, map.box_px, y, map.width, level.data());
    for (int x = 0; x < 300; x += 7) {
      EXPECT_NEAR(level[static_cast<std::size_t>(x)], 100 + 0.1 * x - 0.05 * y, 1e-3);
      EXPECT_NEAR(map.level_at(x, y), level[static_cast<std::size_t>(x)], 1e-4);
    }
  }
}

// Noise that grows along the frame, beyond the outermost centres stays as there; any part of a row alone.
TEST(BackgroundMap, ValuesInUnitsOfTheNoise) {
  auto map = plane_map(300, 200);
  for (int j = 0; j < map.noise.height(); ++j)
    for (int i = 0; i < map.noise.width(); ++i) map.noise.plane()(i, j) = static_cast<float>(5 + i + 2 * j);
  const auto noise = [](int x, int y) {
    return 5 + std::clamp((x + 0.5) / 64 - 0.5, 0.0, 4.0) + 2 * std::clamp((y + 0.5) / 64 - 0.5, 0.0, 3.0);
  };
  for (const int y : {0, 31, 32, 100, 199}) {
    for (const auto& [begin, end] : {std::pair(0, 300), {17, 31}, {31, 33}, {40, 200}, {299, 300}}) {
      std::vector<float> row(300), out(300, -7);
      for (int x = 0; x < 300; ++x)
        row[static_cast<std::size_t>(x)] = static_cast<float>(100 + 0.1 * x - 0.05 * y + (x % 9 - 4) * noise(x, y));
      map.standardise_row(y, row.data(), begin, end, out.data());
      for (int x = 0; x < 300; ++x) {
        const bool inside = x >= begin && x < end;
        EXPECT_NEAR(out[static_cast<std::size_t>(x)], inside ? x % 9 - 4 : -7, 1e-4) << x << " of " << y;
      }
    }
  }
}

TEST(BackgroundMap, OneBoxIsAConstant) {
  BackgroundMap map{40, 30, 64, Image<float>(1, 1, 1, 7.0f), Image<float>(1, 1, 1, 2.0f)};
  const std::vector<float> row(40, 13.0f);
  std::vector<float> out(40);
  map.standardise_row(29, row.data(), 0, 40, out.data());
  EXPECT_FLOAT_EQ(out[39], 3);
  EXPECT_FLOAT_EQ(out[0], 3);
}

}  // namespace
}  // namespace ng
