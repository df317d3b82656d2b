#include "reduce/stack/drops.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"
#include "reduce/stack/drops_slow.h"

namespace ng::reduce {
namespace {

constexpr int kWidth = 23, kHeight = 17, kOut = 31;

struct Example {
  DropFrame frame;
  DropRows rows;
};

// Noise with some pixels missing and some left out; turned, mirrored, scaled and a little projective.
Example example(math::Random& random, int trial) {
  Example e;
  e.frame.width = kWidth;
  e.frame.height = kHeight;
  const math::Affine turn = math::Affine::similarity(0.5 + 1.5 * random.uniform(), 6.3 * random.uniform(), 0, 0);
  const math::Affine middle{1, 0, -11, 0, trial % 2 == 0 ? 1.0 : -1.0, trial % 2 == 0 ? -8.0 : 8.0};
  math::Affine t = turn.after(middle);
  t.c += 15 + random.uniform();
  t.f += 15 + random.uniform();
  auto m = math::Homography(t).coefficients();
  if (trial % 3 == 0) m[6] = 1e-4, m[7] = -2e-4;
  e.frame.to_output = math::Homography(m);
  e.frame.pixfrac = trial % 5 == 0 ? 1 : 0.2 + 0.8 * random.uniform();
  if (trial % 4 != 0) e.frame.bayer = BayerPattern::kGrbg;
  e.frame.weight = {0.5, 1, 0.7};
  e.frame.coverage = 60;
  e.rows = {0, Image<float>(kWidth, kHeight), Image<float>(kWidth, kHeight)};
  for (int y = 0; y < kHeight; ++y) {
    for (int x = 0; x < kWidth; ++x) {
      const double kind = random.uniform();
      e.rows.value.plane()(x, y) = static_cast<float>(100 + 10 * random.normal());
      e.rows.variance.plane()(x, y) = kind < 0.05 ? -1.0f : kind < 0.1 ? 0.0f : static_cast<float>(1 + kind);
    }
  }
  return e;
}

// Lays the frame on the output in strips of the given height.
Image<DropSum> dropped(const Example& e, int strip) {
  Image<DropSum> sums(kOut, kOut, 3, DropSum{});
  for (int y0 = 0; y0 < kOut; y0 += strip) {
    DropWindow window{0, y0, {}};
    const int rows = std::min(strip, kOut - y0);
    for (int p = 0; p < 3; ++p) window.sums[static_cast<std::size_t>(p)] = sums.plane(p).rows(y0, rows);
    const FrameRows need = rows_reaching(e.frame, 0, y0, kOut, rows);
    add_drops(e.frame, e.rows, need.y0, need.count, window);
  }
  return sums;
}

// Areas are exact to 1e-12; the sums held as floats to some 1e-6 of their size, which is below 1000.
TEST(Drops, AgreeWithPlainClipping) {
  math::Random random(3, 8);
  for (int trial = 0; trial < 24; ++trial) {
    const Example e = example(random, trial);
    const Image<DropSum> sums = dropped(e, 7);
    for (int p = 0; p < (e.frame.bayer ? 3 : 1); ++p) {
      for (int y = 0; y < kOut; y += 2) {
        for (int x = trial % 3; x < kOut; x += 3) {
          const DropSum a = sums.plane(p)(x, y), b = slow::sum_at(e.frame, e.rows, p, x, y);
          ASSERT_NEAR(a.value, b.value, 1e-8) << trial << ": " << x << " " << y;
          ASSERT_NEAR(a.weight, b.weight, 1e-10);
          ASSERT_NEAR(a.variance, b.variance, 1e-5);
          ASSERT_NEAR(a.coverage, b.coverage, 2e-3);
          ASSERT_NEAR(a.rejected, b.rejected, 1e-5);
        }
      }
    }
  }
}

// Through a lens that moves the corners by 0.3 px: the drop follows the tangent at its centre, and its own corners lie
// up to 2e-3 px from where the lens puts them (its second derivative, 6 x 0.02 / 14 a pixel, over a quarter of a pixel
// squared).
TEST(Drops, ThroughALens) {
  math::Random random(5, 8);
  for (int trial = 0; trial < 6; ++trial) {
    Example e = example(random, trial);
    e.frame.to_output = math::PlaneMap(std::make_shared<const math::Bend>(math::Bend::radial({11, 8}, 14, 0.02)),
                                       e.frame.to_output.plane(), nullptr);
    const Image<DropSum> sums = dropped(e, 7);
    for (int y = 0; y < kOut; y += 2)
      for (int x = 0; x < kOut; x += 2)
        ASSERT_NEAR(sums.plane(1)(x, y).weight, e.frame.bayer ? slow::sum_at(e.frame, e.rows, 1, x, y).weight : 0, 0.01)
            << trial << ": " << x << " " << y;
  }
}

TEST(Drops, SameBitsHoweverTheOutputIsCut) {
  math::Random random(4, 8);
  for (int trial = 0; trial < 12; ++trial) {
    const Example e = example(random, trial);
    const Image<DropSum> whole = dropped(e, kOut);
    for (const int strip : {1, 5, 8}) {
      const Image<DropSum> cut = dropped(e, strip);
      for (int p = 0; p < 3; ++p)
        for (int y = 0; y < kOut; ++y)
          for (int x = 0; x < kOut; ++x) {
            ASSERT_EQ(whole.plane(p)(x, y).value, cut.plane(p)(x, y).value) << strip;
            ASSERT_EQ(whole.plane(p)(x, y).variance, cut.plane(p)(x, y).variance) << strip;
          }
    }
  }
}

// All area of the drops arrives, and no more: side pixfrac, times the area that the map gives a pixel.
TEST(Drops, TheAreaOfADropArrives) {
  DropFrame frame;
  frame.width = frame.height = 5;
  frame.pixfrac = 0.6;
  frame.to_output = math::Homography(math::Affine::similarity(1.7, 0.4, 12, 9));
  const DropRows rows{0, Image<float>(5, 5, 1, 1.0f), Image<float>(5, 5, 1, 1.0f)};
  Image<DropSum> sums(kOut, kOut, 1, DropSum{});
  add_drops(frame, rows, 0, 5, {0, 0, {sums.plane()}});
  double area = 0;
  for (int y = 0; y < kOut; ++y)
    for (int x = 0; x < kOut; ++x) area += sums.plane()(x, y).weight;
  EXPECT_NEAR(area, 25 * 0.36 * 1.7 * 1.7, 1e-9);
}

}  // namespace
}  // namespace ng::reduce
