#include "reduce/stack/level_panels.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"

namespace ng::reduce {
namespace {

constexpr int kSize = 640, kBox = 64;

// The sky of one panel: a nebula that all of them see, in grid pixels, much wider than a box, and its own plane.
BackgroundMap map_of(double x0, double y0, double level, double gx, double gy, double scale, double noise,
                     std::uint64_t seed) {
  math::Random random(seed, 0);
  BackgroundMap map;
  map.width = map.height = kSize;
  map.box_px = kBox;
  map.level = Image<float>(kSize / kBox, kSize / kBox);
  map.noise = Image<float>(kSize / kBox, kSize / kBox, 1, 1.0f);
  for (int j = 0; j < kSize / kBox; ++j)
    for (int i = 0; i < kSize / kBox; ++i) {
      const double x = x0 + (i + 0.5) * kBox, y = y0 + (j + 0.5) * kBox;
      const double nebula = 300 * std::exp(-(std::pow(x - 600, 2) + std::pow(y - 300, 2)) / (2 * 350 * 350));
      map.level.plane()(i, j) =
          static_cast<float>(scale * (nebula + level + gx * x + gy * y) + noise * random.normal());
    }
  return map;
}

TEST(LevelPanels, SkiesMeetOverTheNebulaThatTheyShare) {
  // Three panels in a row, each sharing a fifth with the next, of other transparency, level and slope.
  const std::vector<double> scales{1, 0.8, 1.3};
  std::vector<BackgroundMap> maps;
  maps.push_back(map_of(0, 0, 500, 0.01, 0, scales[0], 0.2, 1));
  maps.push_back(map_of(512, 0, 620, -0.02, 0.03, scales[1], 0.2, 2));
  maps.push_back(map_of(1024, 0, 450, 0.0, -0.05, scales[2], 0.2, 3));
  const std::vector<math::Homography> at{math::Homography(), math::Homography(math::Affine{1, 0, 512, 0, 1, 0}),
                                         math::Homography(math::Affine{1, 0, 1024, 0, 1, 0})};
  std::vector<PanelSample> samples;
  for (int i = 0; i < 3; ++i)
    for (int j = i + 1; j < 3; ++j)
      sample_overlap(i, {maps[i], 1 / scales[i], at[i]}, j, {maps[j], 1 / scales[j], at[j]}, samples);
  const auto skies = panel_skies(3, samples, kSize);
  EXPECT_EQ(skies[0].c[0], 0);
  // Along the middle of each overlap: a box's noise of 0.2 on either side is 0.3 in the difference, four times that the
  // worst of 24 places may be off, and their mean by three times 0.3 / sqrt(12), the boxes that stand behind them.
  for (const auto& [i, x] : {std::pair<std::size_t, double>{0, 576}, {1, 1088}}) {
    double mean = 0;
    for (double y = 80; y < 560; y += 40) {
      const auto level = [&](std::size_t k) {
        const math::Point p = at[k].inverse().apply({x, y});
        return maps[k].level_at(p.x, p.y) / scales[k] - skies[k].at(x, y);
      };
      EXPECT_NEAR(level(i), level(i + 1), 1.2) << i << " " << y;
      mean += (level(i) - level(i + 1)) / 12;
    }
    EXPECT_NEAR(mean, 0, 0.26) << i;
  }
}

TEST(LevelPanels, ScalesCloseARing) {
  const auto ratio = [](int i, int j, double value) { return PanelRatio{i, j, {value, 0.01 * value, 20}}; };
  // True scales 1, 0.8, 1.25, 1.1; one link of no stars says nothing.
  const std::vector<PanelRatio> ratios{ratio(0, 1, 1 / 0.8), ratio(1, 2, 0.8 / 1.25), ratio(2, 3, 1.25 / 1.1),
                                       ratio(0, 3, 1 / 1.1), PanelRatio{0, 2, {}}};
  const auto scales = panel_scales(5, ratios);
  const double truth[] = {1, 0.8, 1.25, 1.1, 1};
  for (std::size_t i = 0; i < 5; ++i) EXPECT_NEAR(scales[i], truth[i], 1e-4) << i;
}

TEST(LevelPanels, ASumOfSurfacesIsTheirSum) {
  const SkySurface a{{1, 2, 3, 4, 5, 6}, 100, 50, 400}, b{{-2, 0.5, 1, -3, 2, 1}, -30, 200, 900};
  const SkySurface c = sum(a, scaled(b, 2));
  for (const auto& [x, y] : {std::pair{0.0, 0.0}, std::pair{700.0, -90.0}, std::pair{33.0, 1200.0}})
    EXPECT_NEAR(c.at(x, y), a.at(x, y) + 2 * b.at(x, y), 1e-9);
}

}  // namespace
}  // namespace ng::reduce
