// A mosaic of panels by all three ways of coadding: integrate.h, drizzle.h, proper.h.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "base/parallel.h"
#include "math/random.h"
#include "math/robust.h"
#include "reduce/stack/drizzle.h"
#include "reduce/stack/frame_reach.h"
#include "reduce/stack/integrate.h"
#include "reduce/stack/master_stretches.h"
#include "reduce/stack/proper.h"
#include "reduce/test_source.h"

namespace ng::reduce {
namespace {

constexpr int kFrameWidth = 300, kFrameHeight = 240;
constexpr int kWidth = 530, kHeight = 436;
constexpr int kRightAt = 220, kBelowAt = 180;  // where the other panels begin
constexpr double kFeather = 40;

// Three panels, top left, right and below, in an L: of the sky levels 400, 406 and 397 e, of a seeing of 2.4, 4 and 3
// px. Four frames each, dithered by some pixels.
struct Mosaic {
  std::vector<std::unique_ptr<MemorySource>> sources;
  std::vector<StackFrame> frames;
  std::vector<FieldProfile> profiles;
  StackOptions options;
};

Mosaic mosaic(double noise, double step = 1) {
  constexpr double kLevels[] = {0, 6, -3}, kSeeing[] = {2.4, 4.0, 3.0};
  Mosaic m;
  for (std::size_t j = 0; j < 12; ++j) {
    const std::size_t panel = j % 3;
    math::Random random(17, j);
    Image<float> image(kFrameWidth, kFrameHeight);
    for (int y = 0; y < kFrameHeight; ++y)
      for (int x = 0; x < kFrameWidth; ++x)
        image.plane()(x, y) = static_cast<float>(400 + step * kLevels[panel] + noise * random.normal());
    m.sources.push_back(std::make_unique<MemorySource>(std::move(image)));
    StackFrame f;
    f.source = m.sources.back().get();
    const double dx = 4 * random.uniform() + (panel == 1 ? kRightAt : 0);
    const double dy = 4 * random.uniform() + (panel == 2 ? kBelowAt : 0);
    // Turned by some pixels from side to side, so that all places between the pixels of the grid occur.
    math::Affine turned = math::Affine::similarity(1, 0.02 + 0.01 * random.uniform(), 0, 0);
    turned.c = dx + 5;
    turned.f = dy;
    f.to_master = math::Homography(turned);
    f.panel = static_cast<int>(panel);
    f.planes[0].noise = 20;
    f.coverage = 60;
    m.frames.push_back(f);
    m.profiles.push_back(FieldProfile::uniform(Profile::round(kSeeing[panel], 3.5)));
  }
  m.options.width = kWidth;
  m.options.height = kHeight;
  m.options.feather_px = kFeather;
  m.options.sky[0] = Image<float>(9, 7, 1, 400.0f);
  return m;
}

struct Output {
  Image<float> mean{kWidth, kHeight}, variance{kWidth, kHeight}, coverage{kWidth, kHeight};
  double rejected = 0;
};

void copy_band(Image<float>& to, int y0, View<const float> band) {
  for (int y = 0; y < band.height; ++y) std::copy_n(band.row(y), band.width, to.plane().row(y0 + y));
}

std::function<Result<void>(const StackBand&)> into(Output& out) {
  return [&out](const StackBand& band) -> Result<void> {
    copy_band(out.mean, band.y0, band.mean);
    copy_band(out.variance, band.y0, band.variance);
    copy_band(out.coverage, band.y0, band.coverage);
    return {};
  };
}

Output integrated(const Mosaic& m, const Context& ctx = {}) {
  Output out;
  const auto r = integrate(m.frames, m.options, into(out), ctx);
  EXPECT_TRUE(r.ok());
  out.rejected = r->rejected;
  return out;
}

Output drizzled(const Mosaic& m, const Context& ctx = {}) {
  Output out;
  const DrizzleOptions options{.stack = {.width = kWidth,
                                         .height = kHeight,
                                         .planes = 1,
                                         .sky = {m.options.sky[0].clone(), {}, {}},
                                         .combine = {},
                                         .noise_plane = 0,
                                         .seeing = {},
                                         .feather_px = kFeather},
                               .pixfrac = 0.9,
                               .scale = 1};
  const auto r = drizzle(m.frames, options, into(out), ctx);
  EXPECT_TRUE(r.ok());
  out.rejected = r->rejected;
  return out;
}

Output coadded(const Mosaic& m, const Context& ctx = {}) {
  MemorySource master(integrated(m).mean.clone());
  Output out;
  const auto r = coadd_properly(
      m.frames, m.profiles, m.options, master,
      [&](const ProperBand& band) -> Result<void> {
        copy_band(out.mean, band.y0, band.image);
        copy_band(out.variance, band.y0, band.variance);
        copy_band(out.coverage, band.y0, band.coverage);
        return {};
      },
      ctx);
  EXPECT_TRUE(r.ok());
  out.rejected = r->outliers;
  return out;
}

bool same(float a, float b) {
  return a == b || (std::isnan(a) && std::isnan(b));
}

TEST(Panels, FramesOfOtherPanelsChangeNoBit) {
  const Mosaic all = mosaic(20);
  Mosaic first = mosaic(20);
  std::erase_if(first.frames, [](const StackFrame& f) { return f.panel != 0; });
  const Output whole = integrated(all), alone = integrated(first);
  for (int y = 0; y < kBelowAt - 10; ++y)
    for (int x = 0; x < kRightAt - 10; ++x) {
      ASSERT_TRUE(same(whole.mean.plane()(x, y), alone.mean.plane()(x, y))) << x << " " << y;
      ASSERT_TRUE(same(whole.variance.plane()(x, y), alone.variance.plane()(x, y))) << x << " " << y;
      ASSERT_EQ(whole.coverage.plane()(x, y), alone.coverage.plane()(x, y)) << x << " " << y;
    }
}

// A gap in the corner that no panel reaches, and every frame beyond the reach of some bands.
TEST(Panels, SameBitsForAnyPoolAndBudget) {
  const Mosaic m = mosaic(20);
  for (const auto way : {integrated, drizzled, coadded}) {
    const Output reference = way(m, {});
    EXPECT_TRUE(std::isnan(reference.mean.plane()(kWidth - 20, kHeight - 20)));
    for (const int threads : {1, 2, 3, 8}) {
      for (const std::size_t budget : {std::size_t{1} << 17, std::size_t{1} << 28}) {
        ThreadPool pool(threads);
        Context ctx;
        ctx.pool = &pool;
        ctx.memory_budget_bytes = budget;
        const Output out = way(m, ctx);
        EXPECT_EQ(out.rejected, reference.rejected);
        for (int y = 0; y < kHeight; ++y)
          for (int x = 0; x < kWidth; ++x) {
            ASSERT_TRUE(same(reference.mean.plane()(x, y), out.mean.plane()(x, y))) << x << " " << y << " " << threads;
            ASSERT_TRUE(same(reference.variance.plane()(x, y), out.variance.plane()(x, y))) << x << " " << y;
          }
      }
    }
  }
}

// Levels that differ by 6 e meet: over 40 px of fading they change by 0.15 e a pixel, and where a panel begins with 2 %
// of its weight by 0.12 e, less than 0.4 e together. Without the fading each of four frames would bring 0.75 e at once.
TEST(Panels, LevelsGoOverGradually) {
  const Mosaic m = mosaic(0);
  for (const auto way : {integrated, drizzled, coadded}) {
    const Output out = way(m, {});
    for (int y = 40; y < kBelowAt - 10; ++y) {
      for (int x = 40; x < kWidth - 40; ++x)
        ASSERT_LT(std::fabs(out.mean.plane()(x + 1, y) - out.mean.plane()(x, y)), 0.4) << x << " " << y;
      ASSERT_NEAR(out.mean.plane()(100, y), 400, 0.1);
      ASSERT_NEAR(out.mean.plane()(kRightAt + (kFrameWidth - kRightAt) / 2 + 2, y), 403, 0.3);
      ASSERT_NEAR(out.mean.plane()(kWidth - 60, y), 406, 0.1);
    }
  }
}

// Scatter over what is stated, where one panel sees and where two do, within 2.5 errors of a scatter from the MAD of
// some 10000 pixels (1.2 %); of sums over 4 x 4 pixels too, as the noise is white: within 2.5 errors of 4.7 %.
TEST(Panels, ProperNoiseIsWhiteAndAsStatedInEveryPlace) {
  const Output out = coadded(mosaic(20, 0));
  const std::vector<Region> places{{30, 30, 150, 120}, {340, 30, 150, 120}, {30, 260, 150, 120}, {235, 20, 60, 150}};
  for (const Region& place : places) {
    std::vector<float> single, wide;
    for (int y = place.y0; y < place.y0 + place.height; y += 4) {
      for (int x = place.x0; x < place.x0 + place.width; x += 4) {
        float sum = 0;
        for (int k = 0; k < 16; ++k) {
          const int px = x + k % 4, py = y + k / 4;
          const float pull = (out.mean.plane()(px, py) - 400) / std::sqrt(out.variance.plane()(px, py));
          single.push_back(pull);
          sum += pull;
        }
        wide.push_back(sum / 4);
      }
    }
    EXPECT_NEAR(math::mad_sigma(std::span<float>(single), 0), 1, 0.03) << place.x0 << " " << place.y0;
    EXPECT_NEAR(math::mad_sigma(std::span<float>(wide), 0), 1, 0.12) << place.x0 << " " << place.y0;
  }
  EXPECT_NEAR(out.variance.plane()(100, 100), 100, 1e-3);
  // Half-way in the overlap both panels count in full.
  EXPECT_NEAR(out.variance.plane()(kRightAt + (kFrameWidth - kRightAt) / 2 + 2, 100), 50, 2);
}

TEST(FrameReach, HoldsTheFrameInWholeBlocks) {
  const Mosaic m = mosaic(0);
  EXPECT_EQ(reach_on_master(m.frames[0], kWidth, kHeight).x0, 0);
  const Region right = reach_on_master(m.frames[1], kWidth, kHeight);
  EXPECT_EQ(right.x0, kReachColumns);
  EXPECT_EQ(right.x0 + right.width, kWidth);
  const Region below = reach_on_master(m.frames[2], kWidth, kHeight);
  EXPECT_LE(below.y0, kBelowAt + 4);
  EXPECT_GE(below.y0, kBelowAt - 10);
  EXPECT_EQ(below.width, 3 * kReachColumns);
  StackFrame far = m.frames[0];
  far.to_master = math::Homography(math::Affine{1, 0, 5000, 0, 1, 0});
  EXPECT_TRUE(reach_on_master(far, kWidth, kHeight).empty());
}

TEST(MasterStretches, HoldTheFramesThatReachThem) {
  const std::vector<Region> reaches{{0, 0, 256, 100}, {128, 0, 272, 100}, {0, 90, 400, 50}, {}};
  const auto top = stretches_of(reaches, 0, 50, 400);
  ASSERT_EQ(top.size(), 3u);
  EXPECT_EQ(top[0].frames, (std::vector<std::size_t>{0}));
  EXPECT_EQ(top[1].x0, 128);
  EXPECT_EQ(top[1].frames, (std::vector<std::size_t>{0, 1}));
  EXPECT_EQ(top[2].width, 144);
  const auto bottom = stretches_of(reaches, 100, 50, 400);
  ASSERT_EQ(bottom.size(), 1u);
  EXPECT_EQ(bottom[0].frames, (std::vector<std::size_t>{2}));
  EXPECT_TRUE(stretches_of(reaches, 200, 10, 400)[0].frames.empty());
}

TEST(MasterStretches, BandsAreAsTallAsTheWidestFits) {
  const std::vector<Region> reaches{{0, 0, 256, 100}, {0, 0, 256, 100}, {0, 200, 256, 100}};
  // Two frames side by side at most: 512 columns of 4 bytes.
  EXPECT_EQ(band_that_fits(reaches, 300, 4, 96, 4, 4, 512 * 4 * 24), 20);
  EXPECT_EQ(band_that_fits(reaches, 300, 4, 96, 4, 4, std::size_t{1} << 30), 96);
  EXPECT_EQ(band_that_fits(reaches, 300, 4, 96, 4, 4, 1), 4);
}

}  // namespace
}  // namespace ng::reduce
