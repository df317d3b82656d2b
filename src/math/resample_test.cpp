#include "math/resample.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"
#include "math/resample_slow.h"
#include "math/row_places.h"

namespace ng::math {
namespace {

const LanczosPolynomials kLanczos;

Image<float> noise_image(int width, int height, double level) {
  Image<float> image(width, height);
  Random random(2, 2);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) image.plane()(x, y) = static_cast<float>(level + random.normal());
  return image;
}

void add_gaussian(View<float> image, double x0, double y0, double sigma, double flux) {
  for (int y = 0; y < image.height; ++y)
    for (int x = 0; x < image.width; ++x)
      image(x, y) += static_cast<float>(flux / (2 * std::numbers::pi * sigma * sigma) *
                                        std::exp(-(std::pow(x - x0, 2) + std::pow(y - y0, 2)) / (2 * sigma * sigma)));
}

struct Output {
  Image<float> value, squares;
};
Output resample(View<const float> source, const PlaneMap& map, int width, int height,
                ResampleOptions options = {.guard = 3}, View<const std::uint8_t> bad = {}) {
  Output out{Image<float>(width, height), Image<float>(width, height)};
  resample_rows({source, bad, 0}, map, 0, out.value.plane(), out.squares.plane(), options, kLanczos);
  return out;
}

// 36 products of float weights (2e-7 each, lanczos_test.cpp) with values near 10.
TEST(Resample, MatchesItsSlowTwinOnAwkwardSizes) {
  for (const auto& [width, height] :
       {std::pair{5, 8}, std::pair{6, 6}, std::pair{7, 9}, std::pair{33, 17}, std::pair{64, 40}}) {
    const auto source = noise_image(width, height, 10);
    // A share of 2e-6 moves pixels by 1e-4 px, which would show, and bows by 2e-6 px between nodes eight pixels apart.
    const auto lens = std::make_shared<const Bend>(Bend::radial({width / 2.0, height / 2.0}, 40, 2e-6));
    const Homography shifted({1.01, 0.02, 0.3, -0.03, 0.98, 0.4, 0, 0});
    for (const PlaneMap& map :
         {PlaneMap(Affine::similarity(1, 0.3, 2.25, -1.5)), PlaneMap(Affine::similarity(1, 0.06, 1.25, -0.5)),
          PlaneMap(Affine::similarity(1, std::numbers::pi + 0.06, width - 1.7, height - 0.4)),
          PlaneMap(Affine{-1, 0, width - 1.3, 0, -1, height - 1.6}),
          PlaneMap(Homography({1.01, 0.02, 0.3, -0.03, 0.98, 0.4, 1e-4, -2e-4})), PlaneMap(nullptr, shifted, lens),
          PlaneMap(lens, shifted, nullptr)}) {
      const auto out = resample(source.plane(), map, width, height, {.guard = 100});
      for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
          const double expected = slow::resample(source.plane(), map.apply({double(x), double(y)}));
          const float got = out.value.plane()(x, y);
          if (std::isnan(expected)) {
            EXPECT_TRUE(std::isnan(got));
          } else {
            EXPECT_NEAR(got, expected, 2e-5) << x << " " << y;
          }
        }
      }
    }
  }
}

// Rows along which source pixels are neighbours are taken column by column, where they cross them. At a slope of 0.007
// a row crosses the outer columns up to 0.02 px beyond the pixels for which the polynomials are made, which costs some
// 5e-5 of noise of 1. Between stretches kernels do not lean.
TEST(Resample, MatchesItsSlowTwinAlongStretches) {
  const auto source = noise_image(400, 60, 10);
  for (const PlaneMap& map :
       {PlaneMap(Affine{1, 0, 0.3, 0, 1, 0.6}), PlaneMap(Affine{-1, 0, 398.7, 0, -1, 58.2}),
        PlaneMap(Affine::similarity(1, 0.002, 1.7, 0.3)), PlaneMap(Affine::similarity(0.9995, 0.003, 1.7, 0.3)),
        PlaneMap(Affine::similarity(0.992, std::numbers::pi + 0.004, 396.2, 55.7)),
        PlaneMap(Affine::similarity(1, std::numbers::pi + 0.007, 396.2, 55.7)),
        PlaneMap(Homography({1.0001, 0.005, 1.3, -0.006, 0.9999, 2.4, 2e-8, -3e-8}))}) {
    const auto out = resample(source.plane(), map, 400, 60, {.guard = 100});
    int compared = 0, leaning = 0;
    for (int y = 0; y < 60; ++y)
      for (int x = 0; x < 400; ++x) {
        const Point here = map.apply({double(x), double(y)}), next = map.apply({x + 1.0, double(y)});
        const double slope = (next.y - here.y) / (next.x - here.x);
        const double along = slow::resample_along_row(source.plane(), here, slope);
        const float got = out.value.plane()(x, y);
        ASSERT_EQ(std::isnan(along), std::isnan(got)) << x << " " << y;
        if (std::isnan(along)) continue;
        ++compared;
        leaning += static_cast<int>(std::fabs(got - along) < 2e-4);
        ASSERT_LT(std::min(std::fabs(got - along), std::fabs(got - slow::resample(source.plane(), here))), 2e-4) << x;
      }
    EXPECT_GT(compared, 15000);
    EXPECT_GT(leaning, 0.6 * compared);
  }
}

// What row_places.h promises of a lens of 1 %, on a picture with a half diagonal of 1800 px.
TEST(RowPlaces, FollowALens) {
  const auto lens = std::make_shared<const Bend>(Bend::radial({1499.5, 999.5}, 1802, 0.01));
  for (const PlaneMap& map : {PlaneMap(nullptr, Homography(Affine{1, 0.02, 3, -0.02, 1, 5}), lens),
                              PlaneMap(lens, Homography(Affine{1, 0.02, 3, -0.02, 1, 5}), nullptr)}) {
    const RowPlaces places(map, 1990, 3000);
    for (int x = 0; x < 3000; x += 7) {
      const Point exact = map.apply({double(x), 1990}), got = places.at(x);
      EXPECT_NEAR(got.x, exact.x, 3e-4);
      EXPECT_NEAR(got.y, exact.y, 3e-4);
    }
  }
}

TEST(Resample, IdentityAndWholeShiftsAreExact) {
  const auto source = noise_image(40, 30, 100);
  const auto out = resample(source.plane(), Homography(Affine{1, 0, 5, 0, 1, -3}), 40, 30);
  for (int y = 6; y < 28; ++y)
    for (int x = 0; x < 30; ++x) EXPECT_FLOAT_EQ(out.value.plane()(x, y), source.plane()(x + 5, y - 3));
  EXPECT_FLOAT_EQ(out.squares.plane()(10, 10), 1);
}

TEST(Resample, ConstantStaysConstantAndFluxIsConserved) {
  Image<float> source(80, 80, 1, 250.0f);
  const Homography turned(Affine::similarity(1, 0.7, 30, -20));
  const auto flat = resample(source.plane(), turned, 80, 80);
  for (int y = 0; y < 80; ++y)
    for (int x = 0; x < 80; ++x) {
      const float v = flat.value.plane()(x, y);
      EXPECT_TRUE(std::isnan(v) || std::fabs(v - 250) < 1e-3) << v;
    }

  // A star of 10000 e-, enlarged 1.5 x: flux within 0.1 % (a Gaussian of sigma 2 is all but band-limited).
  source.fill(0);
  add_gaussian(source.plane(), 40.3, 39.6, 2, 10000);
  const double k = 1 / 1.5;
  const auto big = resample(source.plane(), Homography(Affine{k, 0, 0, 0, k, 0}), 118, 118,
                            {.flux_scale = float(k * k), .guard = 1});
  double sum = 0;
  for (int y = 10; y < 110; ++y)
    for (int x = 10; x < 110; ++x) sum += big.value.plane()(x, y);
  EXPECT_NEAR(sum, 10000, 10);
}

TEST(Resample, KernelSquaresPredictTheNoise) {
  const auto source = noise_image(400, 400, 0);
  const auto out = resample(source.plane(), Homography(Affine{1, 0, 0.5, 0, 1, 0.25}), 400, 400, {.guard = 3});
  double sum2 = 0;
  int n = 0;
  for (int y = 5; y < 390; ++y)
    for (int x = 5; x < 390; ++x, ++n) sum2 += std::pow(out.value.plane()(x, y), 2);
  const double expected = out.squares.plane()(100, 100);
  EXPECT_NEAR(sum2 / n, expected, 0.02 * expected);  // neighbours are correlated: about 3 standard errors
}

TEST(Resample, ClampsTheRingAroundAHotPixel) {
  Image<float> source(40, 40, 1, 10.0f);
  source.plane()(20, 20) = 50000;
  const auto out = resample(source.plane(), Homography(Affine{1, 0, 0.5, 0, 1, 0.5}), 40, 40, {.guard = 3});
  for (int y = 5; y < 33; ++y)
    for (int x = 5; x < 33; ++x) EXPECT_GE(out.value.plane()(x, y), 7 - 1e-3);
}

TEST(Resample, BadPixelsSpoilOnlyTheirNeighbours) {
  const auto source = noise_image(40, 40, 10);
  Image<std::uint8_t> bad(40, 40, 1, std::uint8_t{0});
  bad.plane()(20, 15) = 1;
  const auto out =
      resample(source.plane(), Homography(Affine{1, 0, 0.4, 0, 1, 0.4}), 40, 40, {.guard = 3}, bad.plane());
  int missing = 0;
  for (int y = 5; y < 33; ++y)
    for (int x = 5; x < 33; ++x) missing += std::isnan(out.value.plane()(x, y));
  EXPECT_EQ(missing, 4);
}

// By definition, of places that run forwards, backwards and between stretches.
TEST(Resample, NoValueIsThatOfABadPixel) {
  const auto source = noise_image(90, 50, 10);
  Image<std::uint8_t> bad(90, 50, 1, std::uint8_t{0});
  Random random(8, 8);
  for (int k = 0; k < 90; ++k)
    bad.plane()(static_cast<int>(90 * random.uniform()), static_cast<int>(50 * random.uniform())) = 1;
  for (const PlaneMap& map :
       {PlaneMap(Affine{1, 0, 0.4, 0, 1, 0.7}), PlaneMap(Affine{-1, 0, 88.3, 0, -1, 48.6}),
        PlaneMap(Affine::similarity(1, 0.005, 0.6, 0.2)), PlaneMap(Affine::similarity(1, 0.06, 2.6, 0.2)),
        PlaneMap(Affine::similarity(1, std::numbers::pi - 0.005, 88.2, 48.7))}) {
    const auto out = resample(source.plane(), map, 90, 50, {.guard = 3}, bad.plane());
    for (int y = 0; y < 50; ++y)
      for (int x = 0; x < 90; ++x) {
        const Point p = map.apply({double(x), double(y)});
        const int px = static_cast<int>(std::floor(p.x)), py = static_cast<int>(std::floor(p.y));
        if (px < 2 || py < 2 || px > 86 || py > 46) continue;
        const auto b = bad.plane();
        const bool met = (b(px, py) | b(px + 1, py) | b(px, py + 1) | b(px + 1, py + 1)) != 0;
        ASSERT_EQ(std::isnan(out.value.plane()(x, y)), met) << x << " " << y;
        ASSERT_EQ(out.squares.plane()(x, y) == 0, met) << x << " " << y;
      }
  }
}

TEST(Resample, BandsGiveTheSameBits) {
  const auto source = noise_image(90, 120, 10);
  const Homography map(Affine::similarity(1, 3.12, 85, 115));
  const auto whole = resample(source.plane(), map, 90, 120);
  for (int y0 = 0; y0 < 120; y0 += 13) {
    const int rows = std::min(13, 120 - y0);
    const auto need = source_rows_needed(map, y0, rows, 90, 90, 120);
    Output band{Image<float>(90, rows), Image<float>(90, rows)};
    resample_rows({source.plane().rows(need.y0, need.count), {}, need.y0}, map, y0, band.value.plane(),
                  band.squares.plane(), {.guard = 3}, kLanczos);
    for (int y = 0; y < rows; ++y)
      for (int x = 0; x < 90; ++x) {
        const float a = whole.value.plane()(x, y0 + y);
        const float b = band.value.plane()(x, y);
        EXPECT_TRUE(a == b || (std::isnan(a) && std::isnan(b))) << x << " " << y0 + y;
      }
  }
}

}  // namespace
}  // namespace ng::math
