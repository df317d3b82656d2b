#include "finish/noise.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstring>

#include "base/parallel.h"
#include "finish/starlet.h"
#include "finish/test_scene.h"

namespace ng::finish {
namespace {

double rms(View<const float> a, View<const float> truth, const Region& r) {
  double sum = 0;
  for (int y = r.y0; y < r.y0 + r.height; ++y)
    for (int x = r.x0; x < r.x0 + r.width; ++x) sum += std::pow(static_cast<double>(a(x, y) - truth(x, y)), 2);
  return std::sqrt(sum / r.width / r.height);
}

struct Scene {
  Image<float> truth{320, 240, 1, 0.0f};
  Image<float> image;
  Image<float> variance{320, 240, 1, 25.0f};
};
// Sky on the left, a soft nebula on the right, stars of all brightnesses; noise of 5 everywhere.
Scene make_scene() {
  Scene s;
  test::add_light(s.truth.plane(), [](double x, double y) {
    return 60 * std::exp(-(std::pow((x - 250) / 30, 2) + std::pow((y - 120) / 40, 2)));
  });
  test::add_stars(s.truth.plane(), test::random_stars(320, 240, 60, 2e5, 9), 1.5, 1, 1);
  s.image = s.truth.clone();
  test::add_noise(s.image.plane(), 5, 5);
  return s;
}

TEST(Noise, SkyBecomesQuieterAndStarsAndNebulaStay) {
  NoiseScratch scratch;
  Scene s = make_scene();
  const Image<float> before = s.image.clone();
  const auto report = reduce_noise(s.image.plane(), s.variance.plane(), {.strength = 1}, scratch, {});
  ASSERT_TRUE(report.ok());
  const Region all{0, 0, 320, 240};
  EXPECT_LT(rms(s.image.plane(), s.truth.plane(), all), 0.6 * rms(before.plane(), s.truth.plane(), all));
  // Light is neither lost nor won, star by star: within 2 % or three sigma of the aperture's own noise.
  for (const auto& star : test::random_stars(320, 240, 60, 2e5, 9)) {
    if (star.x < 10 || star.y < 10 || star.x > 309 || star.y > 229 || star.flux < 2000) continue;
    double difference = 0;
    for (int y = static_cast<int>(star.y) - 5; y <= static_cast<int>(star.y) + 5; ++y)
      for (int x = static_cast<int>(star.x) - 5; x <= static_cast<int>(star.x) + 5; ++x)
        difference += s.image.plane()(x, y) - before.plane()(x, y);
    EXPECT_LT(std::fabs(difference), 0.02 * star.flux + 3 * 5 * 11);
  }
  // The nebula keeps its light within 1 %, as the reduction must; its peak, 12 sigma high and curved, is flattened a
  // little by any smoothing: 2 % is a third of a step of an 8-bit display there.
  const auto light = [](View<const float> image, const Region& r) {
    double sum = 0;
    for (int y = r.y0; y < r.y0 + r.height; ++y)
      for (int x = r.x0; x < r.x0 + r.width; ++x) sum += static_cast<double>(image(x, y));
    return sum;
  };
  const Region whole{180, 20, 139, 200};
  EXPECT_NEAR(light(s.image.plane(), whole) / light(before.plane(), whole), 1, 0.01);
  const Region peak{230, 100, 40, 40};
  EXPECT_NEAR(light(s.image.plane(), peak) / light(before.plane(), peak), 1, 0.02);
}

TEST(Noise, WhatIsBrightKeepsItsBits) {
  NoiseScratch scratch;
  Scene s = make_scene();
  const Image<float> before = s.image.clone();
  const NoiseOptions options{.strength = 1, .snr_limit = 20};
  ASSERT_TRUE(reduce_noise(s.image.plane(), s.variance.plane(), options, scratch, {}).ok());
  int bright = 0;
  for (int y = 0; y < 240; ++y) {
    for (int x = 0; x < 320; ++x) {
      // Brighter than the limit in every smoothing: the peak of a star that is far above it.
      if (s.truth.plane()(x, y) < 5000) continue;
      ++bright;
      EXPECT_EQ(s.image.plane()(x, y), before.plane()(x, y));
    }
  }
  EXPECT_GT(bright, 10);
}

TEST(Noise, MeasuresWhiteNoiseAndCorrelatedNoise) {
  NoiseScratch scratch;
  Image<float> image(512, 512, 1, 0.0f);
  test::add_noise(image.plane(), 5, 12);
  Image<float> variance(512, 512, 1, 25.0f);
  Image<float> correlated(512, 512);
  Image<float> work(512, 512);
  ASSERT_TRUE(starlet_smooth(image.plane(), 0, correlated.plane(), work.plane(), {}).ok());
  const auto white = reduce_noise(image.plane(), variance.plane(), {}, scratch, {});
  // 130000 values of a robust scatter: 0.3 %; the coarsest scale has 16^2 times fewer independent ones: 4 %.
  for (std::size_t j = 0; j < 4; ++j) EXPECT_NEAR(white->response[j] / kStarletNoise[j], 1, j < 3 ? 0.03 : 0.12) << j;
  Image<float> smooth_variance(512, 512, 1, 25.0f * 0.2734375f * 0.2734375f);  // sum of squares of the kernel
  const auto soft = reduce_noise(correlated.plane(), smooth_variance.plane(), {}, scratch, {});
  EXPECT_LT(soft->response[0], 0.6 * kStarletNoise[0]);  // less between neighbours
  EXPECT_GT(soft->response[2], 2 * kStarletNoise[2]);    // and more in patches
}

TEST(Noise, SameBitsForAnyPoolAndNothingAtStrengthZero) {
  NoiseScratch scratch;
  Scene a = make_scene();
  Scene b = make_scene();
  Scene c = make_scene();
  NoiseScratch other;
  ThreadPool pool(3);
  ASSERT_TRUE(reduce_noise(a.image.plane(), a.variance.plane(), {}, scratch, {}).ok());
  ASSERT_TRUE(reduce_noise(b.image.plane(), b.variance.plane(), {}, other, {.pool = &pool}).ok());
  ASSERT_TRUE(reduce_noise(c.image.plane(), c.variance.plane(), {.strength = 0}, scratch, {}).ok());
  const Scene fresh = make_scene();
  for (int y = 0; y < 240; ++y) {
    EXPECT_EQ(0, std::memcmp(a.image.plane().row(y), b.image.plane().row(y), 320 * sizeof(float)));
    EXPECT_EQ(0, std::memcmp(c.image.plane().row(y), fresh.image.plane().row(y), 320 * sizeof(float)));
  }
}

}  // namespace
}  // namespace ng::finish
