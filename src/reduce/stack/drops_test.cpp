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

// Plain weights of all frames on the whole output.
Image<float> plain_sums(const std::vector<Example>& night) {
  Image<float> sums(kOut, kOut, 3, 0.0f);
  for (const Example& e : night)
    add_plain_weights(e.frame, 3, 0, kHeight, {0, 0, {sums.plane(0), sums.plane(1), sums.plane(2)}});
  return sums;
}

// Frames of a mosaic, shifted at random and not turned, all of their pixels of one value.
std::vector<Example> shifted(int frames, double pixfrac, float value) {
  math::Random random(6, 8);
  std::vector<Example> night;
  for (int j = 0; j < frames; ++j) {
    Example e = example(random, 1);
    e.frame.to_output = math::Homography(math::Affine{1, 0, 3 + 4 * random.uniform(), 0, 1, 6 + 4 * random.uniform()});
    e.frame.pixfrac = pixfrac;
    for (int y = 0; y < kHeight; ++y) {
      std::fill_n(e.rows.value.plane().row(y), kWidth, value);
      std::fill_n(e.rows.variance.plane().row(y), kWidth, 1.0f);
    }
    night.push_back(std::move(e));
  }
  return night;
}

TEST(Drops, PlainWeightsAreThoseOfTheDrops) {
  for (const Example& e : shifted(5, 0.7, 1)) {
    std::vector<Example> one;
    one.push_back({e.frame, {0, e.rows.value.clone(), e.rows.variance.clone()}});
    const Image<float> plain = plain_sums(one);
    const Image<DropSum> sums = dropped(e, kOut);
    for (int p = 0; p < 3; ++p)
      for (int y = 0; y < kOut; ++y)
        for (int x = 0; x < kOut; ++x)
          ASSERT_NEAR(plain.plane(p)(x, y), sums.plane(p)(x, y).weight, 1e-6) << p << ": " << x << " " << y;
  }
}

// Turned, scaled and with holes, against the definition; the plain weights are any.
TEST(Drops, BalancedDropsAgreeWithPlainClipping) {
  math::Random random(7, 8);
  for (int trial = 0; trial < 6; ++trial) {
    const Example e = example(random, trial);
    Image<float> plain(kOut, kOut, 3);
    for (int p = 0; p < 3; ++p)
      for (int y = 0; y < kOut; ++y)
        for (int x = 0; x < kOut; ++x)
          plain.plane(p)(x, y) = static_cast<float>(random.uniform() < 0.1 ? 0 : random.uniform());
    const PlainWeights weights{0, 0, {plain.plane(0), plain.plane(1), plain.plane(2)}};
    Image<DropSum> sums(kOut, kOut, 3, DropSum{});
    add_drops(e.frame, e.rows, 0, kHeight, {0, 0, {sums.plane(0), sums.plane(1), sums.plane(2)}}, &weights);
    for (int p = 0; p < (e.frame.bayer ? 3 : 1); ++p) {
      for (int y = 12; y < 20; y += 2) {
        for (int x = 12; x < 20; x += 3) {
          const DropSum a = sums.plane(p)(x, y), b = slow::sum_at(e.frame, e.rows, p, x, y, &weights);
          ASSERT_NEAR(a.value, b.value, 1e-8) << trial << ": " << x << " " << y;
          ASSERT_NEAR(a.weight, b.weight, 1e-10);
        }
      }
    }
  }
}

// By how much the noise of a wide area exceeds, in variance, that of a mean in which every pixel counts the same: from
// what each red pixel of the inner frame adds to all output pixels together.
double lost(const std::vector<Example>& night, const PlainWeights* plain) {
  Image<DropSum> all(kOut, kOut, 3, DropSum{});
  for (const Example& e : night)
    add_drops(e.frame, e.rows, 0, kHeight, {0, 0, {all.plane(0), all.plane(1), all.plane(2)}}, plain);
  double sum = 0, squares = 0;
  int pixels = 0;
  for (const Example& e : night) {
    for (int y = 5; y < kHeight - 5; ++y) {
      for (int x = 5; x < kWidth - 5; ++x) {
        if (bayer_plane(*e.frame.bayer, x, y) != 0) continue;
        DropRows one{0, Image<float>(kWidth, kHeight, 1, 0.0f), Image<float>(kWidth, kHeight, 1, 0.0f)};
        one.value.plane()(x, y) = one.variance.plane()(x, y) = 1;
        Image<DropSum> own(kOut, kOut, 3, DropSum{});
        add_drops(e.frame, one, y, 1, {0, 0, {own.plane(0), own.plane(1), own.plane(2)}}, plain);
        double counts = 0;
        for (int oy = 0; oy < kOut; ++oy)
          for (int ox = 0; ox < kOut; ++ox)
            if (own.plane(0)(ox, oy).value > 0) counts += own.plane(0)(ox, oy).value / all.plane(0)(ox, oy).weight;
        sum += counts;
        squares += counts * counts;
        ++pixels;
      }
    }
  }
  return pixels * squares / (sum * sum) - 1;
}

// Twelve random dithers: balancing leaves a third of what is lost, and a mean of equal values what it was.
TEST(Drops, BalancedDropsCountAlike) {
  const std::vector<Example> night = shifted(12, 0.7, 7);
  Image<float> plain = plain_sums(night);
  const PlainWeights weights{0, 0, {plain.plane(0), plain.plane(1), plain.plane(2)}};
  const double before = lost(night, nullptr), after = lost(night, &weights);
  EXPECT_GT(before, 0.01);
  EXPECT_LT(after, before / 3);
  Image<DropSum> sums(kOut, kOut, 3, DropSum{});
  for (const Example& e : night)
    add_drops(e.frame, e.rows, 0, kHeight, {0, 0, {sums.plane(0), sums.plane(1), sums.plane(2)}}, &weights);
  for (int y = 12; y < 18; ++y)
    for (int x = 12; x < 18; ++x) EXPECT_NEAR(sums.plane(0)(x, y).value / sums.plane(0)(x, y).weight, 7, 1e-9);
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
