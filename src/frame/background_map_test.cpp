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

// By definition: bilinear, held beyond the outermost centres. A curve through such a step would fall below 0.
TEST(BackgroundMap, WhatIsBetweenStaysPositive) {
  Image<float> mesh(5, 4, 1, 0.5f);
  for (int j = 0; j < 4; ++j) mesh.plane()(4, j) = 40;
  for (int i = 0; i < 5; ++i) mesh.plane()(i, 3) = 30;
  const auto expected = [&](double x, double y) {
    const double u = std::clamp((x + 0.5) / 64 - 0.5, 0.0, 4.0), v = std::clamp((y + 0.5) / 64 - 0.5, 0.0, 3.0);
    const int i = std::min(3, static_cast<int>(u)), j = std::min(2, static_cast<int>(v));
    const auto along = [&](int row) {
      return mesh.plane()(i, row) + (u - i) * (mesh.plane()(i + 1, row) - mesh.plane()(i, row));
    };
    return along(j) + (v - j) * (along(j + 1) - along(j));
  };
  bool curve_below = false;
  for (const int y : {0, 31, 32, 100, 170, 255, 280}) {
    std::vector<float> row(330, -7), part(330, -7);
    mesh_row_between(mesh, 64, y, 0, 330, row.data());
    mesh_row_between(mesh, 64, y, 40, 100, part.data());
    for (int x = 0; x < 330; ++x) {
      const auto at = static_cast<std::size_t>(x);
      EXPECT_NEAR(row[at], expected(x, y), 1e-4) << x << " " << y;
      EXPECT_NEAR(mesh_between(mesh, 64, x, y), row[at], 1e-4);
      EXPECT_GE(row[at], 0.4999f);
      if (x < 60) {
        EXPECT_NEAR(part[at], row[at + 40], 1e-5);
      }
      curve_below = curve_below || mesh_at(mesh, 64, x, y) < 0;
    }
  }
  EXPECT_TRUE(curve_below);
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
