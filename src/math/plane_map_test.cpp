#include "math/plane_map.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/bend_fit.h"

namespace ng::math {
namespace {

const Point kMiddle{1499.5, 999.5};

Bend wavy() {
  Bend::Terms x{}, y{};
  for (int k = 0; k < Bend::kTerms; ++k) {
    x[static_cast<std::size_t>(k)] = 1e-3 * (k % 3 - 1) + 2e-4 * k;
    y[static_cast<std::size_t>(k)] = 8e-4 * ((k + 1) % 3 - 1) - 1e-4 * k;
  }
  return {kMiddle, 1800, x, y};
}

// Half a per cent at the corner, 1800 px away, is 9 px outwards there and an eighth of that at half way.
TEST(Bend, RadialIsCubicAlongTheRadius) {
  const Bend lens = Bend::radial(kMiddle, 1800, 0.005);
  EXPECT_EQ(lens.bend(kMiddle), kMiddle);
  const Point far = lens.bend({kMiddle.x + 1800 * 0.6, kMiddle.y - 1800 * 0.8});
  EXPECT_NEAR(far.x, kMiddle.x + 1809 * 0.6, 1e-9);
  EXPECT_NEAR(far.y, kMiddle.y - 1809 * 0.8, 1e-9);
  EXPECT_NEAR(lens.bend({kMiddle.x - 900, kMiddle.y}).x, kMiddle.x - 900 - 9.0 / 8, 1e-9);
}

TEST(Bend, UnbendIsTheWayBack) {
  for (const Bend& bend : {Bend::radial(kMiddle, 1800, 0.02), Bend::radial(kMiddle, 1800, -0.02), wavy()})
    for (const Point u : {Point{0, 0}, Point{2999, 0}, Point{1200, 1999}, kMiddle}) {
      const Point back = bend.unbend(bend.bend(u));
      EXPECT_NEAR(back.x, u.x, 1e-9);
      EXPECT_NEAR(back.y, u.y, 1e-9);
    }
}

// Against finite differences, good to 1e-7 at steps of a tenth of a pixel.
TEST(PlaneMap, TangentMaps) {
  const auto lens = std::make_shared<const Bend>(Bend::radial(kMiddle, 1800, 0.01));
  const auto other = std::make_shared<const Bend>(wavy());
  const Homography plane({1.02, 0.11, 14, -0.1, 0.98, -9, 2e-6, -1e-6});
  for (const PlaneMap& map : {PlaneMap(plane), PlaneMap(lens, plane, nullptr), PlaneMap(nullptr, plane, lens),
                              PlaneMap(lens, plane, other)}) {
    const Point p{2300, 310};
    const Affine t = map.linear_at(p);
    const Point q = map.apply(p);
    EXPECT_NEAR(t.apply(p).x, q.x, 1e-8);
    EXPECT_NEAR(t.apply(p).y, q.y, 1e-8);
    constexpr double kStep = 0.1;
    const Point right = map.apply({p.x + kStep, p.y}), left = map.apply({p.x - kStep, p.y});
    const Point down = map.apply({p.x, p.y + kStep}), up = map.apply({p.x, p.y - kStep});
    EXPECT_NEAR(t.a, (right.x - left.x) / (2 * kStep), 1e-7);
    EXPECT_NEAR(t.d, (right.y - left.y) / (2 * kStep), 1e-7);
    EXPECT_NEAR(t.b, (down.x - up.x) / (2 * kStep), 1e-7);
    EXPECT_NEAR(t.e, (down.y - up.y) / (2 * kStep), 1e-7);
  }
}

TEST(PlaneMap, InverseAndComposition) {
  const auto lens = std::make_shared<const Bend>(Bend::radial(kMiddle, 1800, 0.01));
  const PlaneMap a(lens, Homography({1, 0.01, 40, -0.01, 1, -30, 0, 0}), nullptr);
  const PlaneMap b(lens, Homography({-1, 0.02, 3000, -0.02, -1, 2000, 1e-6, 0}), nullptr);
  const PlaneMap between = b.inverse().after(a);  // from one frame of that lens to another
  const Point p{120, 1900}, there = between.apply(p), on_master = a.apply(p), seen = b.apply(there);
  EXPECT_NEAR(seen.x, on_master.x, 1e-8);
  EXPECT_NEAR(seen.y, on_master.y, 1e-8);
  const Point back = between.inverse().apply(there);
  EXPECT_NEAR(back.x, p.x, 1e-8);
  EXPECT_NEAR(back.y, p.y, 1e-8);
  const Point coarse = a.on_subgrid(2, {1, 0}).apply({60, 950});
  const Point fine = a.apply({121, 1900});
  EXPECT_NEAR(coarse.x, fine.x, 1e-8);
  EXPECT_NEAR(coarse.y, fine.y, 1e-8);
  EXPECT_FALSE(PlaneMap(Homography()).bent());
  EXPECT_TRUE(between.bent());
}

// Two frames of one lens, shifted against each other: carrying one onto the other and then through the lens again is a
// map with one bend, good to 0.01 px for 1 % (18 px in the corner).
TEST(BendFit, ComposedMapsAreFollowed) {
  const auto lens = std::make_shared<const Bend>(Bend::radial(kMiddle, 1800, 0.01));
  const PlaneMap to_master(lens, Homography({1, 0.01, 40, -0.01, 1, -30, 0, 0}), nullptr);
  const PlaneMap between =
      PlaneMap(nullptr, Homography({1, 0, 60, 0, 1, -45, 0, 0}), lens).after(PlaneMap(lens, Homography(), nullptr));
  const PlaneMap both = composed(to_master, between, 3000, 2000);
  EXPECT_EQ(both.to(), nullptr);
  for (const Point p : {Point{0, 0}, Point{2999, 1999}, Point{700, 1500}, kMiddle}) {
    const Point expected = to_master.apply(between.apply(p)), got = both.apply(p);
    EXPECT_NEAR(got.x, expected.x, 0.01);
    EXPECT_NEAR(got.y, expected.y, 0.01);
  }
  // Without a lens it is the product, to the bit.
  const Homography a({1, 0.01, 40, -0.01, 1, -30, 1e-6, 0}), b({-1, 0, 9, 0, -1, 3, 0, 0});
  EXPECT_EQ(composed(a, b, 3000, 2000).plane(), a.after(b));
}

TEST(BendFit, PlacesAlongALineTellNothing) {
  std::vector<BentPlace> places;
  for (int i = 0; i < 40; ++i) places.push_back({{40.0 * i, 20.0 * i}, {40.0 * i + 1, 20.0 * i}});
  EXPECT_FALSE(fit_bend(places, kMiddle, 1000).has_value());
}

}  // namespace
}  // namespace ng::math
