#include "app/green_plane.h"

#include <gtest/gtest.h>

#include "math/random.h"
#include "measure/stars.h"

namespace ng::app {
namespace {

// Nothing but noise: 5 sigma leave a false star in millions of independent places; half a million pixels hold some
// hundred thousand. Without the correlation the threshold would be 2.4 sigma and hundreds would pass.
TEST(GreenPlane, NoiseOfAMosaicIsNotTakenForStars) {
  math::Random random(8, 8);
  Image<float> mosaic(800, 640);
  for (int y = 0; y < mosaic.height(); ++y)
    for (int x = 0; x < mosaic.width(); ++x) mosaic.plane()(x, y) = static_cast<float>(1000 + 30 * random.normal());
  const Image<float> green = green_plane(mosaic.plane(), BayerPattern::kRggb);
  measure::MeasureOptions options;
  options.electrons_per_unit = 0;
  options.noise_correlation = kGreenNoiseCorrelation;
  const auto m = measure::measure_frame(green.plane(), options, {});
  ASSERT_TRUE(m.ok());
  EXPECT_LE(m->list.stars.size(), 2u);
  EXPECT_NEAR(m->quality.noise, 0.685 * 30, 0.01 * 30);  // 150 boxes of 1024 values: better than 1 %

  options.noise_correlation = 1;
  const auto naive = measure::measure_frame(green.plane(), options, {});
  ASSERT_TRUE(naive.ok());
  EXPECT_GT(naive->list.stars.size(), 100u);
}

// Twenty full pixels that columns' offsets have spread over three steps; a sky alone has no such heap at its end.
}  // namespace
}  // namespace ng::app
