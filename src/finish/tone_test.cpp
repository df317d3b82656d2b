#include "finish/tone.h"

#include <gtest/gtest.h>

#include "base/parallel.h"
#include "finish/srgb.h"
#include "finish/test_scene.h"
#include "math/robust.h"

namespace ng::finish {
namespace {

// Lupton et al. 2004: F = asinh(a Q (I - m)) / Q, evaluated in double precision; and the plain form
// asinh(x / a) / asinh(1 / a), as astropy 5.2.1 evaluates it.
TEST(Tone, CurveAgreesWithThePublishedForms) {
  const ToneCurve paper{0, 0.02 * 8, 1.0 / 8};
  EXPECT_NEAR(paper(100), 0.4333388797355906, 1e-12);
  const ToneCurve strong{0, 8, 1.0 / 8};
  EXPECT_NEAR(strong(1), 0.3470590350904647, 1e-12);
  const ToneCurve plain = ToneCurve::between(0, 1, 10);
  EXPECT_NEAR(plain(0.01), 0.0332977502187707, 1e-12);
  EXPECT_NEAR(plain(0.1), 0.2939653260048424, 1e-12);
  EXPECT_NEAR(plain(0.5), 0.7712696419200371, 1e-12);
}

// Run of astropy 5.2.1, make_lupton_rgb(R, G, B, minimum=0, stretch=100, Q=8), which sets the slope such that a tenth
// of the softening comes out linear: F = 0.1 asinh(I Q / stretch) / asinh(0.1 Q), times 255, cut to whole numbers. One
// level, because it computes in single precision. No pixel here is so bright that highlights fade.
TEST(Tone, ColoursAgreeWithAnIndependentProgram) {
  Image<float> image(2, 1, 3);
  const float values[3][2] = {{100, 10}, {50, 10}, {25, 10}};
  for (int p = 0; p < 3; ++p)
    for (int x = 0; x < 2; ++x) image.plane(p)(x, 0) = values[p][x];
  const ToneCurve curve{0, 8.0 / 100, 0.1 / std::asinh(0.1 * 8)};
  const std::array planes = {image.plane(0), image.plane(1), image.plane(2)};
  ASSERT_TRUE(apply_tone(planes, curve, 1, {}).ok());
  const int expected[3][2] = {{133, 25}, {66, 25}, {33, 25}};
  for (int p = 0; p < 3; ++p)
    for (int x = 0; x < 2; ++x)
      EXPECT_NEAR(std::floor(255 * static_cast<double>(image.plane(p)(x, 0))), expected[p][x], 1);
}

TEST(Tone, KeepsColourRatiosBelowTheHighlights) {
  Image<float> image(40, 1, 3);
  for (int x = 0; x < 40; ++x) {
    const float v = std::pow(1.4f, static_cast<float>(x));
    image.plane(0)(x, 0) = 1.3f * v;
    image.plane(1)(x, 0) = v;
    image.plane(2)(x, 0) = 0.7f * v;
  }
  const std::array planes = {image.plane(0), image.plane(1), image.plane(2)};
  ASSERT_TRUE(apply_tone(planes, ToneCurve::between(0, 1e6, 1e-3), 1, {}).ok());
  float previous = 0;
  for (int x = 0; x < 40; ++x) {
    const float r = image.plane(0)(x, 0);
    const float g = image.plane(1)(x, 0);
    const float b = image.plane(2)(x, 0);
    EXPECT_GT(g, previous) << x;  // brighter stays brighter
    previous = g;
    EXPECT_LE(r, 1);
    EXPECT_GT(r, g);
    EXPECT_GT(g, b);
    if (g < 0.6f) {
      EXPECT_NEAR(r / g, 1.3f, 1e-5f);  // float rounding
      EXPECT_NEAR(b / g, 0.7f, 1e-5f);
    }
  }
}

TEST(Tone, ChoicePutsSkyAndNebulaWhereTheyBelong) {
  for (const double peak : {60.0, 400.0, 5000.0}) {
    Image<float> image(600, 400, 1, 0.0f);
    test::add_light(image.plane(), [&](double x, double y) {
      return peak * std::exp(-(std::pow((x - 300) / 60, 2) + std::pow((y - 200) / 50, 2)));
    });
    test::add_stars(image.plane(), test::random_stars(600, 400, 200, 3e5, 4), 1.5, 1, 1);
    test::add_noise(image.plane(), 6, 2);
    const ToneChoice choice = choose_tone(image.plane(), {});
    EXPECT_NEAR(srgb_encode(choice.curve(choice.sky)), 0.10, 0.001) << peak;
    EXPECT_NEAR(choice.noise, 6, 0.5);
    const double nebula = srgb_encode(choice.curve(peak));
    EXPECT_GT(nebula, peak < 100 ? 0.25 : 0.42) << peak;  // ten sigma is seen clearly; more is bright
    EXPECT_LT(nebula, 0.85) << peak;  // the brightest of these reaches a quarter of the white point itself
    const double grain = srgb_encode(choice.curve(choice.sky + choice.noise)) - 0.10;
    EXPECT_LT(grain, 0.03) << peak;
    int white = 0;
    for (int y = 0; y < 400; ++y)
      for (int x = 0; x < 600; ++x) white += choice.curve(static_cast<double>(image.plane()(x, y))) >= 1 ? 1 : 0;
    EXPECT_LT(white, 600 * 400 * 0.0004);
  }
}

TEST(Tone, AFieldOfStarsAloneIsNotStretchedIntoItsGrain) {
  Image<float> image(600, 400, 1, 0.0f);
  test::add_stars(image.plane(), test::random_stars(600, 400, 200, 3e5, 4), 1.5, 1, 1);
  test::add_noise(image.plane(), 6, 2);
  const ToneChoice choice = choose_tone(image.plane(), {});
  EXPECT_NEAR(srgb_encode(choice.curve(choice.sky)), 0.10, 0.001);
  EXPECT_LT(srgb_encode(choice.curve(choice.sky + choice.noise)) - 0.10, 0.02);  // a fiftieth of the display
}

TEST(Tone, GreyPicturesStayInRange) {
  Image<float> image(50, 50, 1, 0.0f);
  test::add_noise(image.plane(), 100, 3);
  const std::array planes = {image.plane()};
  ThreadPool pool(2);
  ASSERT_TRUE(apply_tone(planes, ToneCurve::between(-10, 60, 0.1), 1, {.pool = &pool}).ok());
  for (int y = 0; y < 50; ++y)
    for (int x = 0; x < 50; ++x) EXPECT_TRUE(image.plane()(x, y) >= 0 && image.plane()(x, y) <= 1);
}

}  // namespace
}  // namespace ng::finish
