#include "reduce/stack/integrate.h"

#include <gtest/gtest.h>

#include <cmath>
#include <memory>

#include "base/parallel.h"
#include "math/random.h"
#include "reduce/test_source.h"

namespace ng::reduce {
namespace {

struct Night {
  std::vector<std::unique_ptr<MemorySource>> sources;
  std::vector<StackFrame> frames;
};

// Sky of 400 e- with its photon noise, dithered by fractions of a pixel, half of the frames turned by 180 degrees; one
// cosmic ray in each; a trail of the given brightness in the first.
double across_trail(math::Point p) {
  return std::fabs(std::cos(0.3) * p.x + std::sin(0.3) * p.y - 120);
}
Night night(int n, float trail = 0) {
  constexpr int kWidth = 220, kHeight = 150;
  Night result;
  for (int j = 0; j < n; ++j) {
    math::Random random(31, static_cast<std::uint64_t>(j));
    Image<float> image(kWidth, kHeight);
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x) image.plane()(x, y) = static_cast<float>(400 + 20 * random.normal());
    image.plane()(50 + j, 60) += 9000;
    for (int y = 0; j == 0 && y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x)
        if (across_trail({double(x), double(y)}) <= 5) image.plane()(x, y) += trail;
    result.sources.push_back(std::make_unique<MemorySource>(std::move(image)));
    StackFrame f;
    f.source = result.sources.back().get();
    const double dx = 3 * random.uniform(), dy = 3 * random.uniform();
    f.to_master = math::Homography(j % 2 == 0 ? math::Affine{1, 0, dx, 0, 1, dy}
                                              : math::Affine{-1, 0, kWidth - 1 - dx, 0, -1, kHeight - 1 - dy});
    f.planes[0].noise = 20;
    f.coverage = 60;
    result.frames.push_back(f);
  }
  return result;
}

struct Output {
  Image<float> mean{220, 150}, variance{220, 150}, coverage{220, 150};
};

Output stack(const Night& n, const Context& ctx, const SeeingSpread& seeing = {}) {
  StackOptions options;
  options.seeing = seeing;
  options.width = 220;
  options.height = 150;
  options.sky[0] = Image<float>(4, 3, 1, 400.0f);
  Output out;
  const auto r = integrate(
      n.frames, options,
      [&](const StackBand& band) -> Result<void> {
        for (int y = 0; y < band.mean.height; ++y) {
          std::copy_n(band.mean.row(y), 220, out.mean.plane().row(band.y0 + y));
          std::copy_n(band.variance.row(y), 220, out.variance.plane().row(band.y0 + y));
          std::copy_n(band.coverage.row(y), 220, out.coverage.plane().row(band.y0 + y));
        }
        return {};
      },
      ctx);
  EXPECT_TRUE(r.ok());
  return out;
}

TEST(Integrate, NoiseIsPredictedAndCosmicRaysVanish) {
  const Night n = night(12);
  const Output out = stack(n, {});
  double sum2 = 0, predicted = 0, worst = 0;
  int count = 0;
  for (int y = 12; y < 138; ++y)
    for (int x = 12; x < 208; ++x, ++count) {
      const double d = out.mean.plane()(x, y) - 400;
      sum2 += d * d;
      predicted += out.variance.plane()(x, y);
      worst = std::max(worst, std::fabs(d) / std::sqrt(out.variance.plane()(x, y)));
    }
  // Neighbours are correlated over about 1.5 px: the variance of 24700 pixels is known to about 1.4 %.
  EXPECT_NEAR(sum2 / predicted, 1, 0.05);
  EXPECT_LT(sum2 / count, 400.0 / 12);  // interpolation never adds noise
  EXPECT_LT(worst, 6);
  EXPECT_FLOAT_EQ(out.coverage.plane()(100, 20), 12 * 60);
}

// Stars of 4000 e- in frames whose FWHM runs from 2 to 5 px: with the widths named each keeps its light, and the cosmic
// rays on the sky are gone all the same; unnamed, the sharp frames' cores fall as outliers.
TEST(Integrate, StarsKeepTheirLightInAnySeeing) {
  constexpr double kFlux = 4000;
  Night n = night(11);
  std::vector<double> widths;
  std::vector<math::Point> stars;
  for (int i = 0; i < 12; ++i) stars.push_back({30.0 + 50 * (i % 4) + 0.37 * i, 25.0 + 45.0 * (i / 4) + 0.23 * i});
  for (std::size_t j = 0; j < n.frames.size(); ++j) {
    widths.push_back(2 + 0.3 * static_cast<double>(j));
    const double s = widths.back() / 2.3548;
    Image<float> image(220, 150);
    ASSERT_TRUE(n.sources[j]->read_rows(0, 0, image.plane()).ok());
    for (const math::Point star : stars) {
      const math::Point at = n.frames[j].to_master.inverse().apply(star);
      for (int y = 0; y < 150; ++y)
        for (int x = 0; x < 220; ++x) {
          const auto share = [s](double d) {  // of a Gaussian within one pixel
            return 0.5 * (std::erf((d + 0.5) / s / std::sqrt(2)) - std::erf((d - 0.5) / s / std::sqrt(2)));
          };
          image.plane()(x, y) += static_cast<float>(kFlux * share(x - at.x) * share(y - at.y));
        }
    }
    n.sources[j] = std::make_unique<MemorySource>(std::move(image));
    n.frames[j].source = n.sources[j].get();
  }
  for (const bool named : {false, true}) {
    const Output out = stack(n, {}, named ? seeing_spread(widths) : SeeingSpread{});
    double light = 0;
    for (const math::Point star : stars)
      for (int y = -9; y <= 9; ++y)
        for (int x = -9; x <= 9; ++x)
          light += out.mean.plane()(static_cast<int>(star.x) + x, static_cast<int>(star.y) + y) - 400;
    // Noise of a star's 361 pixels in 11 frames is 115 e-, of the mean of twelve 33 e-: 0.8 % of a star.
    const double share = light / kFlux / static_cast<double>(stars.size());
    if (named)
      EXPECT_NEAR(share, 1, 0.025);
    else
      EXPECT_LT(share, 0.95);
    for (int j = 0; j < 11; ++j) {
      const math::Point ray = n.frames[static_cast<std::size_t>(j)].to_master.apply({50.0 + j, 60});
      EXPECT_LT(out.mean.plane()(static_cast<int>(ray.x + 0.5), static_cast<int>(ray.y + 0.5)), 400 + 60) << j;
    }
  }
}

// A trail of one and a half sigma, which no clipping sees: with its strip named nothing of it is left. 1000 pixels of
// five frames know their mean to 0.3 e-; unnamed it would stand 5 e- above the sky.
TEST(Integrate, StripsAreLeftOutWhole) {
  Night n = night(6, 30);
  for (const bool named : {false, true}) {
    n.frames[0].strips.clear();
    if (named) n.frames[0].strips.push_back({std::cos(0.3), std::sin(0.3), 120, 7});
    const Output out = stack(n, {});
    double sum = 0;
    int count = 0;
    for (int y = 20; y < 130; ++y)
      for (int x = 20; x < 200; ++x) {
        const math::Point p = n.frames[0].to_master.inverse().apply({double(x), double(y)});
        if (across_trail(p) > 3) continue;
        sum += out.mean.plane()(x, y) - 400;
        ++count;
        EXPECT_LE(out.coverage.plane()(x, y), named ? 5 * 60 : 6 * 60) << x << " " << y;
      }
    ASSERT_GT(count, 600);
    EXPECT_NEAR(sum / count, named ? 0 : 5, 1.2) << named;
  }
}

TEST(Integrate, SameBitsForAnyPoolAndBudget) {
  const Night n = night(5);
  const Output reference = stack(n, {});
  for (const int threads : {1, 2, 3, 8}) {
    for (const std::size_t budget : {std::size_t{1} << 17, std::size_t{1} << 28}) {
      ThreadPool pool(threads);
      Context ctx;
      ctx.pool = &pool;
      ctx.memory_budget_bytes = budget;
      const Output out = stack(n, ctx);
      for (int y = 0; y < 150; ++y)
        for (int x = 0; x < 220; ++x) {
          const float a = reference.mean.plane()(x, y), b = out.mean.plane()(x, y);
          ASSERT_TRUE(a == b || (std::isnan(a) && std::isnan(b))) << x << " " << y << " " << threads;
        }
    }
  }
}

}  // namespace
}  // namespace ng::reduce
