#include "math/line_sums.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <span>
#include <utility>

#include "math/random.h"

namespace ng::math {
namespace {

// Slow twin: the digital line of the definition, pixel by pixel: halves of the columns, the rise halved with them.
std::int32_t along(View<const std::int32_t> columns, int x0, int n, int y, int rise) {
  if (n == 1) return x0 < columns.height && y >= 0 && y < columns.width ? columns(y, x0) : 0;
  return along(columns, x0, n / 2, y, rise / 2) + along(columns, x0 + n / 2, n / 2, y + (rise + 1) / 2, rise / 2);
}

void expect_those_of_the_definition(LineSums& sums, View<const std::int32_t> columns) {
  int rises = 0;
  sums.add_up(columns, [&](int rise, std::span<const std::int32_t>) { ASSERT_EQ(rise, rises++); });
  const int n = rises;
  EXPECT_EQ(n, summed_columns(columns.height));
  EXPECT_GE(n, columns.height);
  EXPECT_LT(n, 2 * columns.height);
  sums.add_up(columns, [&](int rise, std::span<const std::int32_t> line) {
    ASSERT_EQ(line.size(), static_cast<std::size_t>(columns.width + rise));
    for (int y = -n; y < columns.width; ++y) {
      const std::int32_t expected = along(columns, 0, n, y, rise);
      if (y < -rise) {
        ASSERT_EQ(expected, 0) << rise << " " << y;
      } else {
        ASSERT_EQ(line[static_cast<std::size_t>(y + rise)], expected) << rise << " " << y;
      }
    }
  });
}

// One after the other with the same memory, smaller pictures after larger ones too.
TEST(LineSums, AreThoseOfTheDefinition) {
  Random random(3, 3);
  LineSums sums;
  for (const auto& [width, height] : {std::pair{1, 4}, std::pair{8, 5}, std::pair{13, 70}, std::pair{5, 1},
                                      std::pair{32, 9}, std::pair{33, 40}, std::pair{2, 3}}) {
    Image<std::int32_t> columns(height, width);
    for (int x = 0; x < width; ++x)
      for (int y = 0; y < height; ++y)
        columns.plane()(y, x) = static_cast<std::int32_t>(std::lround(1e5 * random.normal()));
    const View<const std::int32_t> view = columns.plane();
    expect_those_of_the_definition(sums, view);
    expect_those_of_the_definition(sums, {view.row(width - 1), height, width, -view.stride});
  }
}

// A straight line drawn with a width of one pixel is met by the digital one for at least four fifths of its light.
TEST(LineSums, MeetStraightLines) {
  constexpr double kUnit = 1e6;
  LineSums sums;
  for (const double rise : {0.0, 17.0, 60.0, 100.0, 127.0}) {
    Image<std::int32_t> columns(260, 128, 1, 0);
    for (int x = 0; x < 128; ++x) {
      const double y = 40 + rise * x / 127;
      const int below = static_cast<int>(std::floor(y));
      columns.plane()(below, x) += static_cast<std::int32_t>(kUnit * (1 - (y - below)));
      columns.plane()(below + 1, x) += static_cast<std::int32_t>(kUnit * (y - below));
    }
    std::int32_t best = 0, expected = 0;
    sums.add_up(columns.plane(), [&](int at, std::span<const std::int32_t> line) {
      best = std::max(best, *std::max_element(line.begin(), line.end()));
      if (at == static_cast<int>(rise)) expected = line[static_cast<std::size_t>(40 + at)];
    });
    EXPECT_EQ(best, expected) << rise;
    EXPECT_GT(best, 0.8 * kUnit * 128 * (rise == 0 ? 1 : 0.5)) << rise;
  }
}

}  // namespace
}  // namespace ng::math
