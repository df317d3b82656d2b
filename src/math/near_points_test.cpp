#include "math/near_points.h"

#include <gtest/gtest.h>

#include <limits>

#include "math/point_index.h"
#include "math/random.h"

namespace ng::math {
namespace {

// Beside the tree, over fields of all shapes, with places on the circles themselves and far outside.
TEST(NearPoints, AgreesWithTheTree) {
  Random random(5, 1);
  int near = 0, far = 0;
  for (const auto& [count, width, height, distance] : {std::tuple{1, 1.0, 1.0, 3.0},
                                                       {2, 4000.0, 0.0, 3.0},
                                                       {80, 1500.0, 1000.0, 3.0},
                                                       {250, 90.0, 60.0, 3.0},
                                                       {250, 9000.0, 6000.0, 40.0}}) {
    std::vector<Point> points;
    for (int i = 0; i < count; ++i) points.push_back({width * random.uniform() - 20, height * random.uniform() + 7});
    const PointIndex tree(points);
    const NearPoints grid(points, distance);
    for (int k = 0; k < 4000; ++k) {
      const Point& star = points[static_cast<std::size_t>(random.uniform() * count)];
      const double angle = 6.283 * random.uniform();
      const double away = k % 4 == 0 ? distance : k % 4 == 1 ? 2 * distance * random.uniform() : 0;
      Point p{star.x + away * std::cos(angle), star.y + away * std::sin(angle)};
      if (k % 4 == 3) p = {1.4 * width * random.uniform() - 40, 1.4 * height * random.uniform() - 40};
      const bool expected = tree.nearest(p).second <= distance * distance;
      ASSERT_EQ(grid.any_near(p), expected) << count << " " << p.x << " " << p.y;
      (expected ? near : far)++;
    }
  }
  EXPECT_GT(near, 5000);
  EXPECT_GT(far, 3000);
}

TEST(NearPoints, NothingIsNearNothing) {
  const NearPoints none(std::span<const Point>{}, 3);
  EXPECT_FALSE(none.any_near({0, 0}));
  const std::vector<Point> one{{5, 5}};
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_FALSE(NearPoints(one, 3).any_near({nan, 5}));
}

}  // namespace
}  // namespace ng::math
