#include "math/quad_overlap.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

#include "math/quad_overlap_slow.h"
#include "math/random.h"

namespace ng::math {
namespace {

std::vector<double> areas_of(const std::array<Point, 4>& quad, const PixelWindow& window) {
  std::vector<double> areas(static_cast<std::size_t>(window.width) * static_cast<std::size_t>(window.height));
  quad_overlap(quad, window, areas);
  return areas;
}

// Worst difference from the plain twin over all pixels of the window; nothing may lie outside of it.
double worst_difference(const std::array<Point, 4>& quad) {
  const PixelWindow w = window_of(quad);
  const std::vector<double> areas = areas_of(quad, w);
  const std::vector<Point> polygon(quad.begin(), quad.end());
  double worst = 0, sum = 0;
  for (int j = 0; j < w.height; ++j)
    for (int i = 0; i < w.width; ++i) {
      const double a = areas[static_cast<std::size_t>(j * w.width + i)];
      worst = std::max(worst, std::fabs(a - slow::pixel_overlap(polygon, w.x0 + i, w.y0 + j)));
      sum += a;
    }
  return std::max(worst, std::fabs(sum - slow::area(polygon)));
}

TEST(QuadOverlap, KnownAreas) {
  // Half a pixel each way over a corner of four pixels.
  const std::array<Point, 4> square = {{{0, 0}, {1, 0}, {1, 1}, {0, 1}}};
  for (const double a : areas_of(square, window_of(square))) EXPECT_DOUBLE_EQ(a, 0.25);
  // A square on its tip, sqrt(2) wide, around a pixel: what sticks out on each side is a right triangle of height h.
  const double tip = std::numbers::sqrt2 / 2, h = tip - 0.5;
  const std::array<Point, 4> turned = {{{tip, 0}, {0, tip}, {-tip, 0}, {0, -tip}}};
  const std::vector<double> areas = areas_of(turned, window_of(turned));
  ASSERT_EQ(areas.size(), 9U);
  EXPECT_NEAR(areas[4], 1 - 4 * h * h, 1e-14);
  EXPECT_NEAR(areas[1], h * h, 1e-14);
  EXPECT_NEAR(areas[0], 0, 1e-14);
}

// Double rounding at coordinates of some thousands leaves 1e-12.
TEST(QuadOverlap, AgreesWithPlainClipping) {
  Random random(5, 1);
  for (int trial = 0; trial < 20000; ++trial) {
    const double side = 0.1 + 3 * random.uniform();
    const double angle = 7 * random.uniform();
    const Affine t = Affine::similarity(side, angle, 4000 * random.uniform() - 3, 3000 * random.uniform() - 3);
    const double mirror = trial % 2 == 0 ? 1 : -1;
    std::array<Point, 4> quad;
    for (std::size_t k = 0; k < 4; ++k) {
      const double u = k == 0 || k == 3 ? -0.5 : 0.5, v = k < 2 ? -0.5 : 0.5;
      quad[k] = t.apply({u + 0.1 * random.uniform(), mirror * (v + 0.1 * random.uniform())});
    }
    ASSERT_LT(worst_difference(quad), 1e-11) << trial;
  }
}

TEST(QuadOverlap, EdgesOnPixelBorders) {
  for (const double x : {-0.5, 0.5, 0.0, 2.5})
    for (const double side : {1.0, 2.0, 0.5, 0.25}) {
      const std::array<Point, 4> quad = {{{x, x}, {x + side, x}, {x + side, x + side}, {x, x + side}}};
      EXPECT_LT(worst_difference(quad), 1e-15) << x << " " << side;
    }
}

}  // namespace
}  // namespace ng::math
