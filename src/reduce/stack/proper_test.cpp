#include "reduce/stack/proper.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <vector>

#include "base/parallel.h"
#include "math/random.h"
#include "reduce/test_source.h"

namespace ng::reduce {
namespace {

constexpr int kWidth = 700, kHeight = 560;

// Four frames of a sky with stars, seeing from 2.4 to 4 px, shifted and half of them turned by 180 degrees, one a
// little rotated; and their ordinary master. All of it moved by (dx, dy): the same stars and the same noise stand
// elsewhere in the tiles.
struct Night {
  std::vector<std::unique_ptr<MemorySource>> sources;
  std::vector<StackFrame> frames;
  std::vector<FieldProfile> profiles;
  StackOptions options;
  std::unique_ptr<MemorySource> master;
};

// Noise that belongs to a place in the sky rather than in the picture.
float noise_at(std::uint64_t frame, int x, int y) {
  return static_cast<float>(20 *
                            math::Random(41 + frame, static_cast<std::uint64_t>((y + 100) * 4096 + x + 100)).normal());
}

Night night(int dx, int dy) {
  Night n;
  const std::vector<double> fwhm{2.4, 2.9, 3.3, 4.0};
  math::Random random(8, 1);
  std::vector<std::array<double, 3>> stars;
  for (int i = 0; i < 120; ++i)
    stars.push_back({60 + (kWidth - 60) * random.uniform(), 60 + (kHeight - 60) * random.uniform(),
                     2000 * std::exp(4 * random.uniform())});
  for (std::size_t j = 0; j < fwhm.size(); ++j) {
    const math::Affine turned = j % 2 == 0 ? math::Affine{1, 0, 1.3 + 0.4 * static_cast<double>(j), 0, 1, -0.7}
                                           : math::Affine{-1, 0, kWidth - 1.6, 0, -1, kHeight - 0.8};
    const math::Affine affine = j == 2 ? math::Affine::similarity(1, 0.003, 1, -2) : turned;
    StackFrame f;
    // The frame's pixels stay; the master's grid moves.
    f.to_master = math::Homography(math::Affine{1, 0, double(dx), 0, 1, double(dy)}.after(affine));
    const Profile profile = Profile::round(fwhm[j], 3.5);
    Image<float> image(kWidth, kHeight);
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x) image.plane()(x, y) = 400 + noise_at(j, x, y);
    const math::Affine to_frame = affine.inverse();
    for (const auto& [sx, sy, flux] : stars) {
      const math::Point p = to_frame.apply({sx, sy});
      for (int y = std::max(0, int(p.y) - 30); y < std::min(kHeight, int(p.y) + 31); ++y)
        for (int x = std::max(0, int(p.x) - 30); x < std::min(kWidth, int(p.x) + 31); ++x)
          image.plane()(x, y) += static_cast<float>(flux * profile.over_pixel(x - p.x, y - p.y));
    }
    n.sources.push_back(std::make_unique<MemorySource>(std::move(image)));
    f.source = n.sources.back().get();
    f.planes[0].noise = 20;
    f.coverage = 60;
    n.frames.push_back(f);
    n.profiles.push_back(FieldProfile::uniform(profile));
  }
  n.options.width = kWidth;
  n.options.height = kHeight;
  n.options.sky[0] = Image<float>(11, 9, 1, 400.0f);
  Image<float> master(kWidth, kHeight);
  const auto made = integrate(n.frames, n.options,
                              [&](const StackBand& band) -> Result<void> {
                                for (int y = 0; y < band.mean.height; ++y)
                                  std::copy_n(band.mean.row(y), kWidth, master.plane().row(band.y0 + y));
                                return {};
                              },
                              {});
  EXPECT_TRUE(made.ok());
  n.master = std::make_unique<MemorySource>(std::move(master));
  return n;
}

struct Output {
  Image<float> image{kWidth, kHeight}, variance{kWidth, kHeight}, coverage{kWidth, kHeight};
  ProperResult result;
};

Output coadd(const Night& n, const Context& ctx) {
  Output out;
  int next = 0;
  const auto r = coadd_properly(
      n.frames, n.profiles, n.options, *n.master,
      [&](const ProperBand& band) -> Result<void> {
        EXPECT_EQ(band.y0, next);
        next += band.image.height;
        for (int y = 0; y < band.image.height; ++y) {
          std::copy_n(band.image.row(y), kWidth, out.image.plane().row(band.y0 + y));
          std::copy_n(band.variance.row(y), kWidth, out.variance.plane().row(band.y0 + y));
          std::copy_n(band.coverage.row(y), kWidth, out.coverage.plane().row(band.y0 + y));
        }
        return {};
      },
      ctx);
  EXPECT_TRUE(r.ok());
  EXPECT_EQ(next, kHeight);
  out.result = *r;
  return out;
}

TEST(Proper, SameBitsForAnyPoolAndBudget) {
  const Night n = night(0, 0);
  const Output reference = coadd(n, {});
  for (const int threads : {1, 2, 3, 8}) {
    ThreadPool pool(threads);
    Context ctx;
    ctx.pool = &pool;
    ctx.memory_budget_bytes = std::size_t{1} << (threads == 8 ? 20 : 30);
    const Output out = coadd(n, ctx);
    EXPECT_EQ(out.result.outliers, reference.result.outliers);
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x) {
        const float a = reference.image.plane()(x, y), b = out.image.plane()(x, y);
        ASSERT_TRUE(a == b || (std::isnan(a) && std::isnan(b))) << x << " " << y << " " << threads;
      }
  }
}

// A law that a seam would break: where the tiles lie makes no difference. Margins cut off tails of the filters that
// amount to a hundredth of the noise.
TEST(Proper, ResultDoesNotDependOnWhereTilesLie) {
  const Output here = coadd(night(0, 0), {});
  const Output there = coadd(night(-53, -37), {});
  const double noise = 20 / std::sqrt(4.0);
  for (int y = 60; y < kHeight - 110; ++y)
    for (int x = 60; x < kWidth - 120; ++x)
      ASSERT_NEAR(there.image.plane()(x, y), here.image.plane()(x + 53, y + 37), 0.05 * noise) << x << " " << y;
}

TEST(Proper, StatesNoiseAndCoverageAndKeepsTheSky) {
  const Output out = coadd(night(0, 0), {});
  EXPECT_FLOAT_EQ(out.variance.plane()(300, 300), 100);
  EXPECT_FLOAT_EQ(out.coverage.plane()(300, 300), 240);
  // Half of the pixels hold no star worth mention: a quantile below the median is the sky's, 0.5 sigma below its level.
  std::vector<float> values;
  for (int y = 60; y < kHeight - 60; ++y)
    for (int x = 60; x < kWidth - 60; ++x) values.push_back(out.image.plane()(x, y));
  std::sort(values.begin(), values.end());
  EXPECT_NEAR(values[values.size() / 3], 400 - 0.3 * 10, 2);
  EXPECT_LT(out.result.outliers / out.result.values, 2e-4);  // 4.5 sigma: 7e-6, and stars cut by the borders
}

TEST(Proper, ProfileOfTheMiddleIsSharperThanTheMean) {
  const Night n = night(0, 0);
  const ProfileSize size = proper_profile(n.frames, n.profiles, n.options);
  // Four frames of equal noise: 1 / area is the mean of theirs; pixels and sampling add 3 to 8 % to each.
  double inverse = 0;
  for (const FieldProfile& p : n.profiles) inverse += 0.25 / p.at(0, 0).noise_area_px();
  EXPECT_NEAR(size.noise_area_px * inverse, 1.05, 0.04);
  EXPECT_GT(size.fwhm_px, 2.4);
  EXPECT_LT(size.fwhm_px, 3.1);
}

}  // namespace
}  // namespace ng::reduce
