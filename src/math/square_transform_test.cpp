#include "math/square_transform.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <thread>
#include <vector>

#include "math/random.h"

namespace ng::math {
namespace {

Image<float> noise(int side, std::uint64_t seed) {
  Random random(seed, 0);
  Image<float> tile(side, side);
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x) tile.plane()(x, y) = static_cast<float>(random.normal());
  return tile;
}

TEST(SquareTransform, AgreesWithTheSumItStandsFor) {
  const SquareTransform transform(32);
  const Image<float> tile = noise(32, 1);
  Spectrum half = transform.spectrum();
  transform.forward(tile, half);
  for (int j = 0; j < 32; j += 5)
    for (int i = 0; i <= 16; i += 3) {
      std::complex<double> sum = 0;
      for (int y = 0; y < 32; ++y)
        for (int x = 0; x < 32; ++x)
          sum +=
              static_cast<double>(tile.plane()(x, y)) * std::polar(1.0, -2 * std::numbers::pi * (i * x + j * y) / 32);
      // 1024 values of about 1, added up in tree fashion: a few float steps of the 32 that the sum amounts to.
      EXPECT_NEAR(std::abs(std::complex<double>(half.plane()(i, j)) - sum), 0, 3e-5) << i << " " << j;
    }
}

TEST(SquareTransform, ThereAndBackFromManyThreads) {
  const SquareTransform transform(64);
  std::vector<std::thread> threads;
  for (std::uint64_t seed = 0; seed < 4; ++seed)
    threads.emplace_back([&transform, seed] {
      const SquareTransform another(48);  // made while others work
      const Image<float> tile = noise(64, seed);
      Spectrum half = transform.spectrum();
      Image<float> back = transform.tile();
      transform.forward(tile, half);
      transform.inverse(half, back);
      for (int y = 0; y < 64; ++y)
        for (int x = 0; x < 64; ++x) EXPECT_NEAR(back.plane()(x, y), tile.plane()(x, y), 2e-6);
    });
  for (std::thread& t : threads) t.join();
}

}  // namespace
}  // namespace ng::math
