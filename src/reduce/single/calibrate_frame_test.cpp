#include "reduce/single/calibrate_frame.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstring>

#include "math/random.h"
#include "reduce/single/bridge.h"
#include "reduce/test_source.h"

namespace ng::reduce {
namespace {

bool same_bits(View<const float> a, View<const float> b) {
  for (int y = 0; y < a.height; ++y)
    if (std::memcmp(a.row(y), b.row(y), static_cast<std::size_t>(a.width) * sizeof(float)) != 0) return false;
  return true;
}

// Slow twin: all rows calibrated, then all bridged. Defects stand alone, in clumps wider than any ring, and around the
// rows where one piece ends.
TEST(CalibrateFrame, PieceByPieceAsAllAtOnce) {
  math::Random random(5, 1);
  const int width = 50;
  for (const int height : {7, 30, 31, 60, 97, 200}) {
    Image<float> stored(width, height);
    Image<std::uint8_t> defects(width, height, 1, std::uint8_t{0});
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x) {
        stored.plane()(x, y) = static_cast<float>(random.uniform() < 0.01 ? std::nan("") : 1000 * random.uniform());
        const bool clump = x > 20 && x < 32 && std::abs(y - 60) < 12;
        defects.plane()(x, y) = static_cast<std::uint8_t>(clump || random.uniform() < 0.03);
      }
    for (const int step : {1, 2}) {
      for (const int y0 : {0, std::min(5, height - 1)}) {
        const Calibration c{{}, 10, {}, 1.5f, defects.plane()};
        Image<float> twin(width, height - y0), with(width, height - y0), without(width, height - y0);
        Image<std::uint8_t> twin_bad(width, height - y0), bad(width, height - y0);
        for (int y = 0; y < twin.height(); ++y) std::copy_n(stored.plane().row(y0 + y), width, twin.plane().row(y));
        calibrate_rows(c, y0, twin.plane(), twin_bad.plane());
        bridge_bad_pixels(twin.plane(), twin_bad.plane(), step, 0, twin.height());

        MemorySource source(stored.clone());
        int seen = 0;
        ASSERT_TRUE(
            calibrate_frame_rows(source, 0, c, step, y0, with.plane(), bad.plane(), [&](View<const float> rows) {
              for (int y = 0; y < rows.height; ++y, ++seen)
                EXPECT_EQ(0, std::memcmp(rows.row(y), stored.plane().row(y0 + seen), width * sizeof(float)));
            }).ok());
        EXPECT_EQ(seen, height - y0);
        EXPECT_TRUE(same_bits(with.plane(), twin.plane())) << height << " rows from " << y0 << ", step " << step;
        for (int y = 0; y < twin.height(); ++y)
          EXPECT_TRUE(std::equal(bad.plane().row(y), bad.plane().row(y) + width, twin_bad.plane().row(y)));
        ASSERT_TRUE(calibrate_frame_rows(source, 0, c, step, y0, without.plane(), {}).ok());
        EXPECT_TRUE(same_bits(without.plane(), twin.plane())) << height << " rows from " << y0 << ", step " << step;
      }
    }
  }
}

}  // namespace
}  // namespace ng::reduce
