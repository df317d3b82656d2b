// Star balance, star cores and brightness: what happens to colour before the tone.
#include <gtest/gtest.h>

#include <cmath>

#include "base/parallel.h"
#include "finish/brightness.h"
#include "finish/star_balance.h"
#include "finish/star_cores.h"
#include "finish/test_scene.h"

namespace ng::finish {
namespace {

std::array<View<float>, 3> views(Image<float>& image) {
  return {image.plane(0), image.plane(1), image.plane(2)};
}
std::array<View<const float>, 3> views(const Image<float>& image) {
  return {image.plane(0), image.plane(1), image.plane(2)};
}

Image<float> star_field(const std::vector<test::SceneStar>& stars, std::array<double, 3> throughput) {
  Image<float> image(500, 400, 3, 0.0f);
  for (int c = 0; c < 3; ++c) {
    test::add_stars(image.plane(c), stars, 1.7, c, throughput[static_cast<std::size_t>(c)]);
    test::add_noise(image.plane(c), 4, 40 + static_cast<std::uint64_t>(c));
  }
  return image;
}

TEST(StarBalance, FindsTheThroughputOfTheChannels) {
  const auto stars = test::random_stars(500, 400, 300, 4e5, 6);
  const std::array throughput = {0.55, 1.0, 0.72};
  const auto image = star_field(stars, throughput);
  const auto balance = balance_from_stars(views(image), test::as_list(stars), 4.0, {});
  EXPECT_GT(balance.stars, 60);
  EXPECT_FALSE(balance.doubtful);
  // The scene's stars scatter by 15 % in colour around neutral.
  EXPECT_NEAR(balance.red_factor * throughput[0], 1, 4 * balance.red_error);
  EXPECT_NEAR(balance.blue_factor * throughput[2], 1, 4 * balance.blue_error);
  EXPECT_LT(balance.red_error / balance.red_factor, 0.03);
  EXPECT_GT(balance.red_error / balance.red_factor, 0.005);
}

TEST(StarBalance, IsHonestAboutFewStars) {
  const auto stars = test::random_stars(500, 400, 300, 4e5, 6);
  const auto image = star_field(stars, {0.5, 1, 1});
  auto list = test::as_list(stars);
  for (auto& star : list) star.flags = kStarSaturated;
  const auto none = balance_from_stars(views(image), list, 4.0, {});
  EXPECT_TRUE(none.doubtful);
  EXPECT_EQ(none.stars, 0);
  EXPECT_EQ(none.red_factor, 1);
  const auto six = balance_from_stars(views(image), test::as_list(stars), 4.0, {.max_stars = 6});
  EXPECT_TRUE(six.doubtful);
  EXPECT_EQ(six.stars, 6);
  EXPECT_NEAR(six.red_factor, 2, 0.5);
}

// A warm star, cut at one level in all channels before the balance: its core turns to the colour of the balance.
TEST(StarCores, TakeTheColourOfTheirFlank) {
  Image<float> image(120, 100, 3, 0.0f);
  const std::array throughput = {0.5, 1.0, 0.8};
  const test::SceneStar warm{60.3, 50.2, 3e6, {1.3, 1.0, 0.7}};
  for (int c = 0; c < 3; ++c) {
    const auto t = throughput[static_cast<std::size_t>(c)];
    test::add_stars(image.plane(c), {warm}, 3, c, t);
    for (int y = 0; y < 100; ++y)
      for (int x = 0; x < 120; ++x) {
        float& v = image.plane(c)(x, y);
        v = std::min(v, 8000.0f) / static_cast<float>(t);
      }
  }
  const float before = image.plane(0)(60, 50) / image.plane(1)(60, 50);
  EXPECT_GT(before, 1.9f);  // the core was far too red
  EXPECT_EQ(repair_star_cores(views(image), {}), 1);
  for (int x = 50; x < 71; ++x) {
    EXPECT_NEAR(image.plane(0)(x, 50) / image.plane(1)(x, 50), 1.3, 0.03) << x;
    EXPECT_NEAR(image.plane(2)(x, 50) / image.plane(1)(x, 50), 0.7, 0.03) << x;
  }
}

TEST(StarCores, AnUnsaturatedStarLosesNothing) {
  const test::SceneStar star{60.3, 50.2, 1e5, {1.2, 1.0, 0.9}};
  Image<float> image(120, 100, 3, 0.0f);
  for (int c = 0; c < 3; ++c) test::add_stars(image.plane(c), {star}, 2, c, 1);
  const Image<float> before = image.clone();
  repair_star_cores(views(image), {});
  for (int c = 0; c < 3; ++c)
    for (int y = 40; y < 60; ++y)
      for (int x = 50; x < 70; ++x)
        EXPECT_NEAR(image.plane(c)(x, y), before.plane(c)(x, y), 2e-5 * before.plane(c)(60, 50));
  Image<float> dark(30, 30, 3, 0.0f);
  EXPECT_EQ(repair_star_cores(views(dark), {}), 0);
}

TEST(Brightness, GoesThereAndBack) {
  Image<float> image(70, 50, 3, 100.0f);
  for (int c = 0; c < 3; ++c) test::add_noise(image.plane(c), 20, 60 + static_cast<std::uint64_t>(c));
  const Image<float> before = image.clone();
  ThreadPool pool(2);
  ASSERT_TRUE(to_brightness(views(image), {.pool = &pool}).ok());
  EXPECT_NEAR(image.plane(1)(3, 4), (before.plane(0)(3, 4) + before.plane(1)(3, 4) + before.plane(2)(3, 4)) / 3, 1e-4);
  ASSERT_TRUE(from_brightness(views(image), {}).ok());
  for (int c = 0; c < 3; ++c)
    for (int y = 0; y < 50; ++y)
      for (int x = 0; x < 70; ++x) EXPECT_NEAR(image.plane(c)(x, y), before.plane(c)(x, y), 1e-4);  // float rounding
}

// Monte Carlo against the propagated variances; 35000 pixels give a variance to 0.8 %.
TEST(Brightness, VariancesFollow) {
  Image<float> image(250, 140, 3, 0.0f);
  Image<float> variance(250, 140, 3);
  const std::array sigma = {3.0, 5.0, 8.0};
  for (int c = 0; c < 3; ++c) {
    test::add_noise(image.plane(c), sigma[static_cast<std::size_t>(c)], 70 + static_cast<std::uint64_t>(c));
    test::add_light(variance.plane(c), [](double, double) { return 0; });
    for (int y = 0; y < 140; ++y)
      for (int x = 0; x < 250; ++x)
        variance.plane(c)(x, y) = static_cast<float>(std::pow(sigma[static_cast<std::size_t>(c)], 2));
  }
  ASSERT_TRUE(to_brightness(views(image), {}).ok());
  ASSERT_TRUE(to_brightness_variance(views(variance), {}).ok());
  for (int c = 0; c < 3; ++c) {
    double squares = 0;
    for (int y = 0; y < 140; ++y)
      for (int x = 0; x < 250; ++x) squares += std::pow(static_cast<double>(image.plane(c)(x, y)), 2);
    EXPECT_NEAR(squares / (250 * 140) / static_cast<double>(variance.plane(c)(0, 0)), 1, 0.035) << c;
  }
}

TEST(Brightness, ColourFollowsALuminance) {
  Image<float> image(200, 150, 3, 0.0f);
  Image<float> luminance(200, 150, 1, 0.0f);
  const test::SceneStar star{100, 75, 2e5, {1.3, 1.0, 0.7}};
  for (int c = 0; c < 3; ++c) test::add_stars(image.plane(c), {star}, 2.2, c, 1);
  test::add_stars(luminance.plane(), {star}, 1.7, 1, 3.0);  // sharper, three times the light
  test::add_noise(luminance.plane(), 2, 80);
  for (int c = 0; c < 3; ++c) test::add_noise(image.plane(c), 4, 81 + static_cast<std::uint64_t>(c));
  ASSERT_TRUE(to_brightness(views(image), {}).ok());
  const double factor = luminance_factor(luminance.plane(), image.plane(1));
  EXPECT_GT(factor, 0.25);
  EXPECT_LT(factor, 0.7);
  ASSERT_TRUE(follow_luminance(views(image), luminance.plane(), 12, {}).ok());
  ASSERT_TRUE(from_brightness(views(image), {}).ok());
  const auto mean = [&](int x, int y) {
    return (image.plane(0)(x, y) + image.plane(1)(x, y) + image.plane(2)(x, y)) / 3;
  };
  EXPECT_NEAR(mean(100, 75), luminance.plane()(100, 75), 0.01 * luminance.plane()(100, 75));
  EXPECT_NEAR(image.plane(0)(100, 75) / image.plane(1)(100, 75), 1.3, 0.05);
  EXPECT_NEAR(image.plane(2)(100, 75) / image.plane(1)(100, 75), 0.7, 0.05);
  // Out in the sky colour does not blaze: differences stay of the order of their own noise.
  double squares = 0;
  for (int y = 0; y < 40; ++y)
    for (int x = 0; x < 200; ++x) squares += std::pow(static_cast<double>(image.plane(0)(x, y) - mean(x, y)), 2);
  EXPECT_LT(std::sqrt(squares / 8000), 2 * 4 * 0.8165);  // 4 sqrt(2/3), twice
}

}  // namespace
}  // namespace ng::finish
