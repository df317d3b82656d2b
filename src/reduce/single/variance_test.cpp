#include "reduce/single/variance.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"

namespace ng::reduce {
namespace {

// Lights of 300 e- under a flat whose gain runs from 1 to 1.6, read noise 4 e-, darks and flats of finite number: the
// scatter of the calibrated values in each box is the predicted one. 64 x 64 pixels give a variance to 2.2 %; 16 boxes,
// each within four of its standard errors.
TEST(Variance, IsThatOfCalibratedLights) {
  constexpr int kBox = 64, kSide = 4 * kBox;
  const double read = 4, flat_error = 0.02;
  const int darks = 5;
  math::Random random(19, 1);
  Image<float> light(kSide, kSide), zero(kSide, kSide), gain(kSide, kSide);
  BackgroundMap background{kSide, kSide, kBox, Image<float>(4, 4), Image<float>(4, 4)};
  const auto true_gain = [](int x) { return 1 + 0.6 * (x / kBox) / 3; };
  for (int y = 0; y < kSide; ++y) {
    for (int x = 0; x < kSide; ++x) {
      zero.plane()(x, y) = static_cast<float>(500 + read / std::sqrt(darks) * random.normal());
      gain.plane()(x, y) = static_cast<float>(true_gain(x) * (1 + flat_error * random.normal()));
      light.plane()(x, y) =
          static_cast<float>(500 + static_cast<double>(random.poisson(300 / true_gain(x))) + read * random.normal());
      background.level.plane()(x / kBox, y / kBox) = 300;
    }
  }
  Calibration c;
  c.zero = zero.plane();
  c.flat_gain = gain.plane();
  const Image<float> predicted = predicted_variance(background, c, {read * read, darks, flat_error * flat_error});
  calibrate_rows(c, 0, light.plane(), {});
  for (int j = 0; j < 4; ++j) {
    for (int i = 0; i < 4; ++i) {
      double sum = 0, squares = 0;
      for (int y = j * kBox; y < (j + 1) * kBox; ++y)
        for (int x = i * kBox; x < (i + 1) * kBox; ++x) {
          sum += light.plane()(x, y);
          squares += std::pow(light.plane()(x, y), 2);
        }
      const double n = kBox * kBox;
      const double measured = squares / n - std::pow(sum / n, 2);
      EXPECT_NEAR(predicted.plane()(i, j) / measured, 1, 4 * 0.022) << i << " " << j;
    }
  }
}

TEST(Variance, WithoutAFlatItIsUniform) {
  BackgroundMap background{100, 80, 64, Image<float>(2, 2, 1, 50.0f), Image<float>(2, 2, 1, 1.0f)};
  const Image<float> v = predicted_variance(background, {}, {9, 1, 0});
  for (int j = 0; j < 2; ++j)
    for (int i = 0; i < 2; ++i) EXPECT_FLOAT_EQ(v.plane()(i, j), 50 + 9 * 2);
}

}  // namespace
}  // namespace ng::reduce
