#include "reduce/stack/drizzle.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <memory>
#include <utility>

#include "base/parallel.h"
#include "math/random.h"
#include "reduce/test_source.h"

namespace ng::reduce {
namespace {

constexpr int kWidth = 150, kHeight = 110;
constexpr float kSky = 400;

struct Night {
  std::vector<std::unique_ptr<MemorySource>> sources;
  std::vector<StackFrame> frames;
};

// Frames dithered by whole and broken pixels, every second one turned by 180 degrees and a little. `scene` gives
// electrons per pixel at a place of the master, `noise` their standard deviation on the sky; photon noise on top.
Night night(int n, double noise, const std::function<double(math::Point)>& scene, bool mosaic, std::uint64_t seed = 7) {
  Night result;
  for (int j = 0; j < n; ++j) {
    math::Random random(seed, static_cast<std::uint64_t>(j));
    const double dx = 8 * random.uniform() - 4, dy = 8 * random.uniform() - 4;
    const double angle = 0.004 * random.uniform() + (j % 2 == 0 ? 0 : 3.14159265358979);
    const math::Affine to_middle{1, 0, -(kWidth - 1) / 2.0, 0, 1, -(kHeight - 1) / 2.0};
    math::Affine t = math::Affine::similarity(1, angle, 0, 0).after(to_middle);
    t.c += (kWidth - 1) / 2.0 + dx;
    t.f += (kHeight - 1) / 2.0 + dy;
    Image<float> image(kWidth, kHeight);
    for (int y = 0; y < kHeight; ++y) {
      for (int x = 0; x < kWidth; ++x) {
        const double e = scene(t.apply({double(x), double(y)}));
        const double sigma = noise * std::sqrt(1 + std::max(0.0, e - static_cast<double>(kSky)) / (noise * noise));
        image.plane()(x, y) = static_cast<float>(e + (noise > 0 ? sigma : 0) * random.normal());
      }
    }
    result.sources.push_back(std::make_unique<MemorySource>(std::move(image)));
    StackFrame f;
    f.source = result.sources.back().get();
    f.to_master = math::Homography(t);
    if (mosaic) f.bayer = BayerPattern::kRggb;
    for (PlaneScale& p : f.planes) p.noise = std::max(noise, 1.0);
    f.coverage = 60;
    result.frames.push_back(f);
  }
  return result;
}

double flat_sky(math::Point /*place*/) {
  return static_cast<double>(kSky);
}

// A star of 60000 e, Gaussian, FWHM 2.6 px, its light per pixel taken at the pixel's centre: flat enough for 0.1 %.
constexpr math::Point kStar{70.3, 52.8};
constexpr double kStarFlux = 60000, kStarSigma = 1.1;
double star(math::Point p) {
  const double r2 = (p.x - kStar.x) * (p.x - kStar.x) + (p.y - kStar.y) * (p.y - kStar.y);
  return static_cast<double>(kSky) +
         kStarFlux / (2 * 3.14159265358979 * kStarSigma * kStarSigma) * std::exp(-r2 / (2 * kStarSigma * kStarSigma));
}

struct Output {
  Image<float> mean, variance, coverage, rejected;
  StackCounts counts;
};

Output drizzled(const Night& n, double pixfrac, double scale, const Context& ctx = {},
                const SeeingSpread& seeing = {}) {
  DrizzleOptions options;
  options.stack.seeing = seeing;
  options.pixfrac = pixfrac;
  options.scale = scale;
  options.stack.width = kWidth;
  options.stack.height = kHeight;
  options.stack.planes = n.frames[0].bayer ? 3 : 1;
  for (Image<float>& sky : options.stack.sky) sky = Image<float>(3, 2, 1, kSky);
  const int w = drizzled_size(kWidth, scale), h = drizzled_size(kHeight, scale), planes = options.stack.planes;
  Output out{Image<float>(w, h, planes),
             Image<float>(w, h, planes),
             Image<float>(w, h, planes),
             Image<float>(w, h, planes),
             {}};
  const auto r = drizzle(
      n.frames, options,
      [&](const StackBand& band) -> Result<void> {
        for (int y = 0; y < band.mean.height; ++y) {
          std::copy_n(band.mean.row(y), w, out.mean.plane(band.plane).row(band.y0 + y));
          std::copy_n(band.variance.row(y), w, out.variance.plane(band.plane).row(band.y0 + y));
          std::copy_n(band.coverage.row(y), w, out.coverage.plane(band.plane).row(band.y0 + y));
          std::copy_n(band.rejected.row(y), w, out.rejected.plane(band.plane).row(band.y0 + y));
        }
        return {};
      },
      ctx);
  EXPECT_TRUE(r.ok());
  if (r.ok()) out.counts = *r;
  return out;
}

// Over the pixels of the output at least `rim` master pixels inside.
void for_inner(const Output& out, double scale, double rim, const std::function<void(int, int)>& f) {
  const int b = static_cast<int>(rim / scale);
  for (int y = b; y < out.mean.height() - b; ++y)
    for (int x = b; x < out.mean.width() - b; ++x) f(x, y);
}

// A mean of equal values is that value, whatever the weights: surface brightness times the area of an output pixel.
TEST(Drizzle, KeepsSurfaceBrightness) {
  for (const bool mosaic : {false, true}) {
    const Night n = night(9, 0, flat_sky, mosaic);
    for (const auto& [pixfrac, scale] : {std::pair{1.0, 1.0}, {0.7, 0.6}, {0.8, 1.5}}) {
      const Output out = drizzled(n, pixfrac, scale);
      const double expected = static_cast<double>(kSky) * scale * scale;
      for (int p = 0; p < out.mean.planes(); ++p)
        for_inner(out, scale, 8, [&](int x, int y) {
          const double v = static_cast<double>(out.mean.plane(p)(x, y));
          if (std::isnan(v)) return;
          EXPECT_NEAR(v / expected, 1, 2e-6) << pixfrac << " " << scale;
        });
    }
  }
}

// Flux, on whatever grid. The weights of a mosaic are uneven, which moves the flux of one star by some thousandths; the
// photon noise of 60000 e in 30 frames is 0.08 % (of a quarter of the pixels 0.15 %).
TEST(Drizzle, KeepsTheFluxOfAStarAndRejectsNothingOfIt) {
  for (const bool mosaic : {false, true}) {
    const Night n = night(30, 10, star, mosaic);
    for (const auto& [pixfrac, scale] : {std::pair{1.0, 1.0}, {0.7, 1.0}, {0.8, 0.5}}) {
      const Output out = drizzled(n, pixfrac, scale);
      for (int p = 0; p < out.mean.planes(); ++p) {
        double flux = 0, rejected = 0;
        for_inner(out, scale, 0, [&](int x, int y) {
          const double mx = (x + 0.5) * scale - 0.5 - kStar.x, my = (y + 0.5) * scale - 0.5 - kStar.y;
          if (mx * mx + my * my > 81) return;
          flux += static_cast<double>(out.mean.plane(p)(x, y)) - static_cast<double>(kSky) * scale * scale;
          rejected += static_cast<double>(out.rejected.plane(p)(x, y));
        });
        EXPECT_NEAR(flux / kStarFlux, 1, mosaic ? 0.006 : 0.003) << pixfrac << " " << scale << " plane " << p;
        // 30 frames x 254 pixels at 4.5 sigma: 0.05 by chance; the star itself would lose hundreds.
        EXPECT_LE(rejected * scale * scale, 3);
      }
    }
  }
}

// Frames whose FWHM runs from 2 to 5 px, a star of 8000 e- on a noise of 20: with the widths named nothing of it is
// rejected, nor of any other place (11 frames x 254 pixels at 4.5 sigma); unnamed, the sharp frames' cores are.
TEST(Drizzle, RejectsNothingOfAStarInAnySeeing) {
  constexpr int kFrames = 11;
  for (const bool mosaic : {false, true}) {
    Night n = night(kFrames, 20, flat_sky, mosaic);
    std::vector<double> widths;
    for (std::size_t j = 0; j < kFrames; ++j) {
      widths.push_back(2 + 0.3 * static_cast<double>(j));
      const double s2 = std::pow(widths.back() / 2.3548, 2);
      const auto scene = [s2](math::Point p) {
        const double r2 = std::pow(p.x - kStar.x, 2) + std::pow(p.y - kStar.y, 2);
        return static_cast<double>(kSky) + 8000 / (2 * 3.14159265358979 * s2) * std::exp(-r2 / (2 * s2));
      };
      Night same_seeing = night(kFrames, 20, scene, mosaic);  // the same places and noise
      n.sources[j] = std::move(same_seeing.sources[j]);
      n.frames[j].source = n.sources[j].get();
    }
    for (const bool named : {false, true}) {
      const Output out = drizzled(n, 1, 1, {}, named ? seeing_spread(widths) : SeeingSpread{});
      double rejected = 0;
      for_inner(out, 1, 0, [&](int x, int y) {
        if (std::hypot(x - kStar.x, y - kStar.y) <= 9)
          for (int p = 0; p < out.rejected.planes(); ++p) rejected += static_cast<double>(out.rejected.plane(p)(x, y));
      });
      if (named)
        EXPECT_LE(rejected, 3) << mosaic;
      else
        EXPECT_GE(rejected, 10) << mosaic;
    }
  }
}

// R as published, derived once more: with a drop of side p on pixels of side s, in one dimension the integral of the
// shared length over all places is p s, that of its square q = min^2 (max - min / 3). Variance of a pixel q^2 / (p s)^4
// in two dimensions and for unit density of noise, of a wide area 1 / s^2 per pixel.
TEST(Drizzle, NoiseCorrelationFollowsFromTheOverlaps) {
  for (const auto& [p, s] : {std::pair{1.0, 1.0}, {0.5, 1.0}, {1.0, 0.5}, {0.8, 0.3}}) {
    const double small = std::min(p, s), large = std::max(p, s);
    const double q = small * small * (large - small / 3);
    const double pixel = q / (p * s * p * s);
    EXPECT_NEAR(noise_correlation(p, s), 1 / s / pixel, 1e-12);
  }
  EXPECT_DOUBLE_EQ(noise_correlation(1, 1), 1.5);  // a value that the paper names
}

// Squares of noise: of single pixels, and of means of squares of `side` pixels times their number.
struct Squares {
  double one = 0, stated = 0, wide = 0;
  int pixels = 0, squares = 0;
  StackCounts counts;  // of the last

  void add(const Output& out, double level, int rim, int side) {
    counts = out.counts;
    for (int by = rim; by + side < out.mean.height() - rim; by += side) {
      for (int bx = rim; bx + side < out.mean.width() - rim; bx += side) {
        double sum = 0;
        for (int y = by; y < by + side; ++y)
          for (int x = bx; x < bx + side; ++x, ++pixels) {
            const double d = static_cast<double>(out.mean.plane()(x, y)) - level;
            sum += d;
            one += d * d;
            stated += static_cast<double>(out.variance.plane()(x, y));
          }
        wide += sum * sum / (side * side);
        ++squares;
      }
    }
  }
};

// The same, measured: noise of single pixels and of squares 4 px wide, over some 4000 squares, whose noise is known to
// 1.1 %. A square of side L gathers drops as if it were one pixel of that side: its own R tells what it still misses.
TEST(Drizzle, NoiseCorrelationAsMeasured) {
  for (const auto& [pixfrac, scale] : {std::pair{1.0, 1.0}, {0.5, 1.0}, {0.8, 0.5}}) {
    Squares sums;
    const int side = static_cast<int>(std::lround(4 / scale));
    for (const std::uint64_t seed : {1, 2, 3, 4, 5})
      sums.add(drizzled(night(40, 20, flat_sky, false, seed), pixfrac, scale),
               static_cast<double>(kSky) * scale * scale, static_cast<int>(9 / scale), side);
    const double measured = std::sqrt(sums.wide / sums.squares / (sums.one / sums.pixels));
    const double expected = noise_correlation(pixfrac, scale) / noise_correlation(pixfrac, side * scale);
    const StackCounts& counts = sums.counts;
    ASSERT_EQ(counts.noise.size(), 1U);
    // Told by the halves of the frames: 10000 pixels, neighbours alike, whose scatter is known to some 2 %.
    EXPECT_NEAR(counts.noise[0].noise / std::sqrt(sums.one / sums.pixels), 1, 0.06);
    EXPECT_NEAR(measured / expected, 1, 0.035) << pixfrac << " " << scale;
    EXPECT_NEAR(sums.one / sums.stated, 1, 0.03) << "VARIANCE is that of single pixels";
  }
}

// Single pixels, a pair and a faint neighbour; nothing of them is left, and the sky keeps its pixels.
TEST(Drizzle, OutliersAreMaskedInTheFrames) {
  for (const bool mosaic : {false, true}) {
    const Night clean = night(12, 20, flat_sky, mosaic);
    Night hit = night(12, 20, flat_sky, mosaic);
    for (std::size_t j = 0; j < hit.sources.size(); ++j) {
      const int x = 20 + 9 * static_cast<int>(j);
      hit.sources[j]->at(x, 50) += 9000;
      hit.sources[j]->at(x + 1, 50) += 3000;
      hit.sources[j]->at(x + 1, 51) += 75;
    }
    const Output a = drizzled(clean, 0.8, 1), b = drizzled(hit, 0.8, 1);
    double worst = 0;
    for (int p = 0; p < a.mean.planes(); ++p)
      for_inner(a, 1, 10, [&](int x, int y) {
        const double d = static_cast<double>(b.mean.plane(p)(x, y) - a.mean.plane(p)(x, y));
        worst = std::max(worst, std::fabs(d) / std::sqrt(static_cast<double>(a.variance.plane(p)(x, y))));
      });
    // Losing a pixel of its own noise moves a mean of a few drops by about its sigma; an unmasked ray would be 100.
    EXPECT_LT(worst, mosaic ? 4 : 2) << mosaic;
    EXPECT_GE(b.counts.rejected, 24);
    EXPECT_LT(a.counts.rejected / a.counts.values, 1e-3);
    // Each pixel is counted once, whatever the bands; the dithers leave a few at the borders outside.
    EXPECT_NEAR(a.counts.values / (12.0 * kWidth * kHeight), 0.9, 0.1);
  }
}

TEST(Drizzle, SameBitsForAnyPoolAndBudget) {
  for (const bool mosaic : {false, true}) {
    const Night n = night(5, 20, star, mosaic);
    const Output reference = drizzled(n, 0.7, 0.8);
    for (const int threads : {1, 2, 3, 8}) {
      for (const std::size_t budget : {std::size_t{1} << 17, std::size_t{1} << 28}) {
        ThreadPool pool(threads);
        Context ctx;
        ctx.pool = &pool;
        ctx.memory_budget_bytes = budget;
        const Output out = drizzled(n, 0.7, 0.8, ctx);
        EXPECT_EQ(out.counts.values, reference.counts.values);
        EXPECT_EQ(out.counts.rejected, reference.counts.rejected);
        for (int p = 0; p < out.mean.planes(); ++p)
          for_inner(out, 0.8, 0, [&](int x, int y) {
            for (const auto& [a, b] : {std::pair{&reference.mean, &out.mean}, {&reference.variance, &out.variance}}) {
              const float va = a->plane(p)(x, y), vb = b->plane(p)(x, y);
              ASSERT_TRUE(va == vb || (std::isnan(va) && std::isnan(vb))) << x << " " << y << " " << threads;
            }
          });
      }
    }
  }
}

}  // namespace
}  // namespace ng::reduce
