#include "measure/trails.h"

#include <gtest/gtest.h>

#include <cmath>

#include "base/angle.h"
#include "measure/stars.h"
#include "measure/test_scene.h"

namespace ng::measure {
namespace {

constexpr int kWidth = 900, kHeight = 700;
constexpr double kSky = 400, kRead = 5;

// Sky, 150 stars of the brightness of a crowded field, and a Gaussian trail of the given peak in sigma of a pixel.
Image<float> scene(double angle, double peak_sigma, double sigma_px, std::uint64_t stream, double share = 1) {
  Image<float> image(kWidth, kHeight, 1, static_cast<float>(kSky));
  math::Random random(5, stream);
  const Profile profile = Profile::round(3, 3.5);
  for (int k = 0; k < 150; ++k)
    test::add_star(image.plane(), profile,
                   {kWidth * random.uniform(), kHeight * random.uniform(), 600 * std::exp(5 * random.uniform())}, 16);
  const double peak = peak_sigma * std::sqrt(kSky + kRead * kRead);
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const double dx = x - kWidth / 2.0, dy = y - kHeight / 2.0;
      const double d = -dx * std::sin(angle) + dy * std::cos(angle);
      const double along = dx * std::cos(angle) + dy * std::sin(angle);
      if (along > (share - 0.5) * kWidth) continue;
      image.plane()(x, y) += static_cast<float>(peak * std::exp(-0.5 * d * d / (sigma_px * sigma_px)));
    }
  test::add_noise(image.plane(), kRead, stream);
  return image;
}

std::vector<Trail> trails_of(const Image<float>& image) {
  MeasureOptions options;
  options.trails = true;
  const auto m = measure_frame(image.plane(), options, {});
  EXPECT_TRUE(m.ok());
  return m->trails;
}

// From 0.6 of the noise of a pixel up (a frame this small; larger ones go deeper), in every direction. The line must
// hold the trail's crest within a pixel at the rims of the frame, and its width all but a hundredth of the light. Its
// peak is the highest of five places of the mean section, to which faint stars add: good to a third.
TEST(Trails, AreFoundAtTheirPlace) {
  for (const double peak : {0.6, 2.0, 20.0}) {
    for (const double degrees : {3.0, 40.0, 47.0, 88.0, 120.0, 163.0}) {
      const double angle = deg_to_rad(degrees);
      const auto trails = trails_of(scene(angle, peak, 1.4, static_cast<std::uint64_t>(degrees)));
      ASSERT_EQ(trails.size(), 1u) << peak << " " << degrees;
      const Trail& t = trails[0];
      for (const double along : {-330.0, 0.0, 330.0}) {
        const double x = kWidth / 2.0 + along * std::cos(angle), y = kHeight / 2.0 + along * std::sin(angle);
        EXPECT_LT(std::fabs(t.across(x, y)), peak < 1 ? 2 : 1) << peak << " " << degrees;
      }
      EXPECT_GT(t.half_width_px, 2.6 * 1.4) << peak << " " << degrees;
      EXPECT_LT(t.half_width_px, 12) << peak << " " << degrees;
      EXPECT_NEAR(t.peak / (peak * std::sqrt(kSky + kRead * kRead)), 1, 0.35) << peak << " " << degrees;
    }
  }
}

TEST(Trails, NoiseAndStarsDrawNone) {
  for (std::uint64_t stream = 1; stream <= 12; ++stream)
    EXPECT_TRUE(trails_of(scene(0, 0, 1, stream)).empty()) << stream;
}

TEST(Trails, ABrightOneThatEndsInTheFrameIsFound) {
  EXPECT_EQ(trails_of(scene(0.5, 15, 1.4, 3, 0.5)).size(), 1u);
}

}  // namespace
}  // namespace ng::measure
