#include "finish/sky_fit.h"

#include <gtest/gtest.h>

#include <functional>

#include "base/parallel.h"
#include "finish/test_scene.h"

namespace ng::finish {
namespace {

constexpr int kWidth = 900;
constexpr int kHeight = 600;
using Light = std::function<double(double, double)>;

struct Outcome {
  SkyFit fit;
  double worst = 0;  // largest |surface - true gradient| over the field
};

// Gradient + nebula + 600 stars + noise of 8 electrons, per channel.
Outcome run(const std::vector<Light>& gradients, const std::vector<Light>& nebulae, int degree = -1) {
  std::vector<SkyMesh> meshes;
  const auto stars = test::random_stars(kWidth, kHeight, 600, 2e5, 3);
  for (std::size_t c = 0; c < gradients.size(); ++c) {
    Image<float> image(kWidth, kHeight, 1, 0.0f);
    test::add_light(image.plane(), gradients[c]);
    test::add_light(image.plane(), nebulae[c]);
    test::add_stars(image.plane(), stars, 1.6, static_cast<int>(c), 1);
    test::add_noise(image.plane(), 8, 20 + c);
    meshes.push_back(*sky_mesh(image.plane(), 0, {}));
  }
  Outcome outcome{*fit_sky(meshes, degree), 0};
  for (std::size_t c = 0; c < gradients.size(); ++c)
    for (int y = 0; y < kHeight; y += 20)
      for (int x = 0; x < kWidth; x += 20)
        outcome.worst = std::max(outcome.worst, std::fabs(outcome.fit.surfaces[c].at(x, y) - gradients[c](x, y)));
  return outcome;
}

Light plane_gradient(double level, double across, double down) {
  return [=](double x, double y) { return level + across * (x / kWidth - 0.5) + down * (y / kHeight - 0.5); };
}
double bowl(double x, double y) {
  const double u = x / kWidth - 0.3;
  const double v = y / kHeight - 0.6;
  return 500 + 150 * u * u + 90 * v * v + 60 * u;
}
double none(double, double) {
  return 0;
}
// A nebula with soft wings that covers half of the field (52 % lie above 1 % of its peak).
Light big_nebula(double peak) {
  return [=](double x, double y) {
    const double r2 = std::pow((x - 430) / 250, 2) + std::pow((y - 310) / 185, 2);
    return peak * std::exp(-std::pow(r2, 1.5) * 1.7) * (1 + 0.3 * std::sin(x / 40) * std::cos(y / 55));
  };
}

// Half the pixel noise of a box of 16 x 16 is 0.25; unresolved faint stars add up to 1. A limit of 1.5 electrons is 1.5
// % of the gradient and 1 % of the nebula.
TEST(SkyFit, FollowsAGradientUnderStars) {
  const auto flat = run({plane_gradient(500, 100, 60)}, {none});
  EXPECT_LT(flat.worst, 1.5);
  EXPECT_EQ(flat.fit.surfaces[0].degree, 1);
  EXPECT_GT(flat.fit.sky_share, 0.3);
  EXPECT_FALSE(flat.fit.doubtful);
  const auto curved = run({bowl}, {none});
  EXPECT_LT(curved.worst, 1.5);
  EXPECT_EQ(curved.fit.surfaces[0].degree, 2);
}

TEST(SkyFit, LeavesANebulaOfHalfTheField) {
  for (const double peak : {50.0, 150.0, 2000.0}) {
    const auto in_plane = run({plane_gradient(500, 100, 60)}, {big_nebula(peak)});
    EXPECT_LT(in_plane.worst, std::max(1.5, 0.015 * peak)) << peak;
    const auto in_bowl = run({bowl}, {big_nebula(peak)});
    EXPECT_LT(in_bowl.worst, std::max(2.0, 0.02 * peak)) << peak;
  }
}

// Red shows the nebula, blue does not; the choice of sky is common, the surfaces are not.
TEST(SkyFit, ChannelsKeepTheirOwnGradients) {
  const auto outcome = run({plane_gradient(300, 80, 0), plane_gradient(600, 0, 90), plane_gradient(450, -50, 20)},
                           {big_nebula(200), big_nebula(60), none});
  EXPECT_LT(outcome.worst, 2.0);
}

TEST(SkyFit, FlagsAFieldWithoutSky) {
  const auto corner = run({plane_gradient(500, 0, 0)}, {[](double x, double y) { return 0.8 * (x + y); }}, 2);
  const auto half =
      run({plane_gradient(500, 0, 0)},
          {[](double x, double y) { return x > 300 ? 200 + 80 * std::sin(x / 30) * std::sin(y / 20) : 0; }});
  EXPECT_TRUE(half.fit.doubtful);
  EXPECT_LT(half.worst, 8);
  EXPECT_EQ(corner.fit.surfaces[0].degree, 2);
}

TEST(SkyFit, SaysWhenTheImageIsTooSmall) {
  Image<float> image(40, 30, 1, 1.0f);
  const std::vector<SkyMesh> meshes = [&] {
    std::vector<SkyMesh> m;
    m.push_back(*sky_mesh(image.plane(), 0, {}));
    return m;
  }();
  const auto fit = fit_sky(meshes, 2);
  ASSERT_FALSE(fit.ok());
  EXPECT_EQ(fit.error().code(), Code::kTooFew);
}

TEST(SkyFit, MeshIsTheSameForAnyPool) {
  Image<float> image(300, 200, 1, 10.0f);
  test::add_noise(image.plane(), 3, 1);
  const auto alone = *sky_mesh(image.plane(), 16, {});
  ThreadPool pool(3);
  const auto pooled = *sky_mesh(image.plane(), 16, {.pool = &pool});
  for (int y = 0; y < alone.level.height(); ++y)
    for (int x = 0; x < alone.level.width(); ++x) EXPECT_EQ(alone.level.plane()(x, y), pooled.level.plane()(x, y));
}

TEST(SkySurface, SubtractionAgreesWithEvaluation) {
  const SkySurface surface{37, 23, 3, {5, 1, -2, 0.5, 0.25, -0.75, 1.5, -0.5, 0.3, 0.2}};
  Image<float> image(37, 23, 1, 0.0f);
  ASSERT_TRUE(subtract_surface(image.plane(), surface, {}).ok());
  for (int y = 0; y < 23; ++y)
    for (int x = 0; x < 37; ++x) EXPECT_NEAR(image.plane()(x, y), -surface.at(x, y), 2e-6);  // float rounding near 8
  EXPECT_DOUBLE_EQ(surface.at(18, 11), 5);  // the centre of the image: only the constant
}

}  // namespace
}  // namespace ng::finish
