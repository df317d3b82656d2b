#include "math/transform.h"

#include <gtest/gtest.h>

namespace ng::math {
namespace {

const Homography kTilted({0.99, -0.12, 35.0, 0.11, 1.01, -20.0, 2e-6, -3e-6});

TEST(Homography, InverseAndComposition) {
  const Homography other(Affine::similarity(0.5, 3.1, 100, 7));
  for (const Point p : {Point{0, 0}, Point{4000, 10}, Point{12.5, 2800}}) {
    const Point back = kTilted.inverse().apply(kTilted.apply(p));
    EXPECT_NEAR(back.x, p.x, 1e-8);
    EXPECT_NEAR(back.y, p.y, 1e-8);
    const Point both = kTilted.after(other).apply(p);
    EXPECT_NEAR(both.x, kTilted.apply(other.apply(p)).x, 1e-8);
    EXPECT_NEAR(both.y, kTilted.apply(other.apply(p)).y, 1e-8);
  }
}

TEST(Homography, TangentMapMatchesDifferences) {
  const Point p{1500, 900};
  const Affine t = kTilted.linear_at(p);
  const double h = 0.5;
  EXPECT_NEAR(t.apply(p).x, kTilted.apply(p).x, 1e-9);
  EXPECT_NEAR(t.apply({p.x + h, p.y}).x, kTilted.apply({p.x + h, p.y}).x, 1e-5);
  EXPECT_NEAR(t.apply({p.x, p.y + h}).y, kTilted.apply({p.x, p.y + h}).y, 1e-5);
}

TEST(Affine, SimilarityHasItsScaleAndAngle) {
  const Affine t = Affine::similarity(1.7, -2.0, 3, 4);
  EXPECT_NEAR(t.scale(), 1.7, 1e-12);
  EXPECT_NEAR(t.rotation(), -2.0, 1e-12);
}

}  // namespace
}  // namespace ng::math
