#include "reduce/single/calibrate.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "reduce/single/defects.h"

namespace ng::reduce {
namespace {

TEST(Calibrate, ZeroGainAndFlatInThisOrder) {
  Image<float> rows(3, 2, 1, 1100.0f);
  Image<float> zero(3, 4, 1, 100.0f);
  Image<float> gain(3, 4, 1, 1.0f);
  gain.plane()(1, 2) = 2;
  calibrate_rows({zero.plane(), 0, gain.plane(), 0.5f, {}}, 1, rows.plane());
  EXPECT_FLOAT_EQ(rows.plane()(0, 0), 500);
  EXPECT_FLOAT_EQ(rows.plane()(1, 1), 1000);  // row 1 of the band is row 2 of the frame
}

TEST(Bridge, TakesTheMedianOfItsOwnColourAndMarksNan) {
  Image<float> rows(9, 9);
  for (int y = 0; y < 9; ++y)
    for (int x = 0; x < 9; ++x) rows.plane()(x, y) = static_cast<float>((x & 1) * 100 + (y & 1) * 1000);
  rows.plane()(4, 4) = 60000;
  rows.plane()(5, 2) = std::numeric_limits<float>::quiet_NaN();
  Image<std::uint8_t> bad(9, 9, 1, std::uint8_t{0});
  bad.plane()(4, 4) = 1;
  bridge_bad_pixels(rows.plane(), bad.plane(), 2);
  EXPECT_FLOAT_EQ(rows.plane()(4, 4), 0);
  EXPECT_FLOAT_EQ(rows.plane()(5, 2), 100);
  EXPECT_EQ(bad.plane()(5, 2), 1);
  EXPECT_EQ(bad.plane()(0, 0), 0);
}

TEST(Defects, HotFromTheDarkColdFromTheFlatSpikesFromTheLights) {
  Image<float> dark(64, 64), flat(64, 64, 1, 1.0f);
  for (int y = 0; y < 64; ++y)
    for (int x = 0; x < 64; ++x) dark.plane()(x, y) = 100 + static_cast<float>((x * 7 + y * 13) % 5);
  dark.plane()(10, 11) = 400;
  flat.plane()(20, 21) = 0.1f;
  const auto map = defects_from_masters(dark.plane(), flat.plane(), 64, 64, {});
  int count = 0;
  for (int y = 0; y < 64; ++y)
    for (int x = 0; x < 64; ++x) count += map.plane()(x, y);
  EXPECT_EQ(count, 2);
  EXPECT_EQ(map.plane()(10, 11), 1);
  EXPECT_EQ(map.plane()(20, 21), 1);

  Image<std::uint8_t> votes(64, 64, 1, std::uint8_t{0});
  ASSERT_TRUE(vote_spikes(dark.plane(), 2, 1, 6, votes.plane(), {}).ok());
  EXPECT_EQ(votes.plane()(10, 11), 1);
  EXPECT_EQ(votes.plane()(30, 30), 0);
}

}  // namespace
}  // namespace ng::reduce
