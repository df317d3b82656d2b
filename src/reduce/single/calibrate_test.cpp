#include "reduce/single/calibrate.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "math/random.h"
#include "reduce/single/defects.h"

namespace ng::reduce {
namespace {

TEST(Calibrate, ZeroGainAndFlatInThisOrder) {
  Image<float> rows(3, 2, 1, 1100.0f);
  Image<float> zero(3, 4, 1, 100.0f);
  Image<float> gain(3, 4, 1, 1.0f);
  gain.plane()(1, 2) = 2;
  calibrate_rows({zero.plane(), 0, gain.plane(), 0.5f, {}}, 1, rows.plane(), {});
  EXPECT_FLOAT_EQ(rows.plane()(0, 0), 500);
  EXPECT_FLOAT_EQ(rows.plane()(1, 1), 1000);  // row 1 of the band is row 2 of the frame
}

// Slow twin: the definition, value by value; the same operations in the same order give the same bits.
TEST(Calibrate, EveryWidthAsByDefinition) {
  math::Random random(11, 1);
  const float inf = std::numeric_limits<float>::infinity(), nan = std::nanf("");
  for (const int width : {1, 5, 16, 37, 64}) {
    Image<float> rows(width, 2), zero(width, 2), gain(width, 2);
    Image<std::uint8_t> defects(width, 2, 1, std::uint8_t{0}), bad(width, 2, 1, std::uint8_t{7});
    for (int y = 0; y < 2; ++y)
      for (int x = 0; x < width; ++x) {
        rows.plane()(x, y) = static_cast<float>(1000 * random.uniform());
        zero.plane()(x, y) = static_cast<float>(100 * random.uniform());
        gain.plane()(x, y) = random.uniform() < 0.1 ? (y == 0 ? nan : inf) : static_cast<float>(0.5 + random.uniform());
        defects.plane()(x, y) = static_cast<std::uint8_t>(random.uniform() < 0.1 ? 200 : 0);
      }
    for (const bool with : {false, true}) {
      Calibration c{{}, 12, {}, 0.7f, {}};
      if (with) c = {zero.plane(), 0, gain.plane(), 0.7f, defects.plane()};
      const Image<float> raw = rows.clone();
      calibrate_rows(c, 0, rows.plane(), bad.plane());
      for (int y = 0; y < 2; ++y)
        for (int x = 0; x < width; ++x) {
          float expected = (raw.plane()(x, y) - (with ? zero.plane()(x, y) : 12)) * 0.7f;
          if (with) expected *= gain.plane()(x, y);
          if (std::isfinite(expected)) {
            ASSERT_EQ(rows.plane()(x, y), expected);
          }
          ASSERT_EQ(bad.plane()(x, y), !std::isfinite(expected) || (with && defects.plane()(x, y) != 0)) << x;
        }
    }
  }
}

TEST(Defects, HotFromTheDarkColdFromTheFlatSpikesFromTheLights) {
  Image<float> dark(64, 64), flat(64, 64, 1, 1.0f);
  for (int y = 0; y < 64; ++y)
    for (int x = 0; x < 64; ++x) dark.plane()(x, y) = 100 + static_cast<float>((x * 7 + y * 13) % 5);
  dark.plane()(10, 11) = 400;
  flat.plane()(20, 21) = 0.1f;
  const auto found = defects_from_masters(dark.plane(), flat.plane(), 64, 64, {}, {});
  ASSERT_TRUE(found.ok());
  const Image<std::uint8_t>& map = *found;
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
