#include "math/star_match.h"

#include <gtest/gtest.h>

#include "math/random.h"

namespace ng::math {
namespace {

std::vector<Point> sky(int n, std::uint64_t stream) {
  Random random(17, stream);
  std::vector<Point> points;
  for (int i = 0; i < n; ++i) points.push_back({4000 * random.uniform(), 2800 * random.uniform()});
  return points;
}

// The stars of `points` as seen through the map: jittered, those outside the frame lost, some replaced by others.
std::vector<Point> seen(const std::vector<Point>& points, const Affine& map, double jitter, double lost,
                        std::uint64_t stream) {
  Random random(18, stream);
  std::vector<Point> out;
  for (const Point p : points) {
    const Point q = map.apply(p);
    const bool gone = random.uniform() < lost;
    const Point shifted{q.x + jitter * random.normal(), q.y + jitter * random.normal()};
    if (q.x < 0 || q.x > 4000 || q.y < 0 || q.y > 2800) continue;
    out.push_back(gone ? Point{4000 * random.uniform(), 2800 * random.uniform()} : shifted);
  }
  return out;
}

void expect_same(const Affine& got, const Affine& want, double tolerance_px) {
  for (const Point p : {Point{0, 0}, Point{4000, 0}, Point{0, 2800}, Point{4000, 2800}}) {
    EXPECT_NEAR(got.apply(p).x, want.apply(p).x, tolerance_px);
    EXPECT_NEAR(got.apply(p).y, want.apply(p).y, tolerance_px);
  }
}

TEST(StarMatch, FindsFlipsShiftsRotationsMirrorsAndScales) {
  const auto stars = sky(90, 1);
  int stream = 0;
  for (const Affine& map : {Affine{}, Affine{1, 0, 600, 0, 1, -450}, Affine{-1, 0, 4010, 0, -1, 2770},
                            Affine::similarity(1, 0.6, 900, -700), Affine::similarity(0.45, 2.5, 2200, 700),
                            Affine{-1, 0.01, 4000, 0.01, 1, 20}, Affine::similarity(1.002, 3.13, 3900, 2900)}) {
    const auto other = seen(stars, map, 0.2, 0.25, static_cast<std::uint64_t>(++stream));
    const auto match = match_stars(stars, other, {});
    ASSERT_TRUE(match.ok()) << stream << ": " << match.error().message();
    expect_same(match->map, map, 6);  // a similarity from three stars, not yet refined
    EXPECT_GE(match->pairs.size(), 15u) << stream;
  }
}

TEST(StarMatch, SurvivesFortyPercentOverlap) {
  const auto stars = sky(140, 2);
  const Affine map{1, 0.003, -2300, -0.003, 1, 120};
  const auto match = match_stars(stars, seen(stars, map, 0.2, 0.2, 3), {.brightest_from = 100, .brightest_to = 100});
  ASSERT_TRUE(match.ok());
  expect_same(match->map, map, 25);  // far corners extrapolate from a triangle
}

TEST(StarMatch, FewStarsSuffice) {
  const auto stars = sky(12, 5);
  const auto match = match_stars(stars, seen(stars, Affine{1, 0, 15, 0, 1, -4}, 0.3, 0.1, 6), {});
  ASSERT_TRUE(match.ok());
  EXPECT_GE(match->pairs.size(), 8u);
}

TEST(StarMatch, UnrelatedFramesFail) {
  int wrong = 0;
  for (std::uint64_t k = 0; k < 200; ++k) wrong += match_stars(sky(80, 1000 + k), sky(80, 5000 + k), {}).ok();
  EXPECT_EQ(wrong, 0);
  EXPECT_EQ(match_stars(sky(3, 1), sky(80, 2), {}).error().code(), Code::kTooFew);
}

TEST(PairStars, NearestNeighboursMustBeMutual) {
  const std::vector<Point> from = {{0, 0}, {0.5, 0}, {10, 10}};
  const std::vector<Point> to = {{0.4, 0}, {10.2, 10}, {50, 50}};
  const auto pairs = pair_stars(from, to, Homography(), 2);
  ASSERT_EQ(pairs.size(), 2u);
  EXPECT_EQ(pairs[0].from, 1);
  EXPECT_EQ(pairs[0].to, 0);
  EXPECT_EQ(pairs[1].from, 2);
  EXPECT_EQ(pairs[1].to, 1);
}

}  // namespace
}  // namespace ng::math
