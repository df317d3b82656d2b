#include "reduce/stack/tile_grid.h"

#include <gtest/gtest.h>

namespace ng::reduce {
namespace {

TEST(TileGrid, WeightsAddUpToOneAndCoresCoverOnce) {
  for (const int length : {1, 15, 17, 415, 416, 417, 430, 431, 433, 900, 4240}) {
    const TileGrid grid{length};
    for (int at = 0; at < length; ++at) {
      double sum = 0;
      int cores = 0;
      for (int t = 0; t < grid.count(); ++t) {
        const bool reached = at >= grid.from(t) && at < grid.to(t);
        sum += reached ? static_cast<double>(grid.weight(t, at)) : 0;
        cores += at >= TileGrid::core(t) && at < grid.core_end(t) ? 1 : 0;
        if (reached) {
          EXPECT_GE(at - TileGrid::origin(t), TileGrid::kMargin);
          EXPECT_LT(at - TileGrid::origin(t), TileGrid::kSide - TileGrid::kMargin);
        }
      }
      ASSERT_NEAR(sum, 1, 1e-6) << length << " " << at;
      ASSERT_EQ(cores, 1) << length << " " << at;
    }
  }
}

}  // namespace
}  // namespace ng::reduce
