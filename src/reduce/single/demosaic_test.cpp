#include "reduce/single/demosaic.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstring>
#include <limits>
#include <vector>

#include "base/parallel.h"
#include "math/random.h"
#include "reduce/single/demosaic_slow.h"

namespace ng::reduce {
namespace {

constexpr std::array kPatterns = {BayerPattern::kRggb, BayerPattern::kBggr, BayerPattern::kGrbg, BayerPattern::kGbrg};
constexpr float kNan = std::numeric_limits<float>::quiet_NaN();

template <typename Colour>  // Colour(plane, x, y)
Image<float> scene(int width, int height, const Colour& colour) {
  Image<float> image(width, height, 3);
  for (int p = 0; p < 3; ++p)
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x) image.plane(p)(x, y) = static_cast<float>(colour(p, x, y));
  return image;
}

Image<float> mosaic_of(const Image<float>& scene, BayerPattern pattern) {
  Image<float> mosaic(scene.width(), scene.height());
  for (int y = 0; y < scene.height(); ++y)
    for (int x = 0; x < scene.width(); ++x) mosaic.plane()(x, y) = scene.plane(bayer_plane(pattern, x, y))(x, y);
  return mosaic;
}

Image<float> run(const Image<float>& mosaic, BayerPattern pattern, const Context& ctx = {},
                 const ColourBalance& balance = {}) {
  Image<float> out(mosaic.width(), mosaic.height(), 3, -1e30f);
  const auto done = demosaic_menon(mosaic.plane(), pattern, balance, out.plane(0), out.plane(1), out.plane(2), ctx);
  EXPECT_TRUE(done.ok());
  return out;
}

Image<float> noisy_mosaic(int width, int height, std::uint64_t seed) {
  Image<float> mosaic(width, height);
  math::Random random(seed, 0);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) mosaic.plane()(x, y) = static_cast<float>(500 + 60 * random.normal());
  return mosaic;
}

bool same_bits(const Image<float>& a, const Image<float>& b) {
  for (int p = 0; p < a.planes(); ++p)
    for (int y = 0; y < a.height(); ++y)
      if (std::memcmp(a.plane(p).row(y), b.plane(p).row(y), static_cast<std::size_t>(a.width()) * sizeof(float)) != 0)
        return false;
  return true;
}

// Noise makes every decision and every branch happen; sizes around the tile's own show its seams. Float against double
// on values near 500: 2e-4 is six units of the last place, for a chain of a dozen sums. Where the two directions tie
// within rounding either answer is right: at most one pixel in 5000.
TEST(Demosaic, MatchesItsSlowTwin) {
  for (const auto& [width, height] : {std::pair{4, 4}, {5, 7}, {17, 9}, {140, 64}, {141, 65}, {283, 131}}) {
    for (const BayerPattern pattern : kPatterns) {
      const auto mosaic = noisy_mosaic(width, height, static_cast<std::uint64_t>(width));
      const ColourBalance balance{1.4f, width < 140 ? 1.9f : 0.8f};
      const auto got = run(mosaic, pattern, {}, balance);
      const slow::Demosaic expected(mosaic.plane(), pattern, balance);
      int different = 0;
      for (int p = 0; p < 3; ++p)
        for (int y = 0; y < height; ++y)
          for (int x = 0; x < width; ++x)
            different += std::fabs(got.plane(p)(x, y) - expected.value(p, x, y)) > 2e-4 ? 1 : 0;
      EXPECT_LE(different, width * height / 5000) << width << "x" << height << " " << to_string(pattern);
    }
  }
}

TEST(Demosaic, MeasuredPixelsStayAndAConstantColourIsExact) {
  const std::array colours = {830.25, 1200.5, 310.125};  // sums and differences without rounding
  const auto flat = scene(150, 70, [&](int p, int, int) { return colours[static_cast<std::size_t>(p)]; });
  for (const BayerPattern pattern : kPatterns) {
    EXPECT_TRUE(same_bits(run(mosaic_of(flat, pattern), pattern), flat)) << to_string(pattern);
    const auto mosaic = noisy_mosaic(61, 40, 3);
    const auto out = run(mosaic, pattern);
    for (int y = 0; y < 40; ++y)
      for (int x = 0; x < 61; ++x) EXPECT_EQ(out.plane(bayer_plane(pattern, x, y))(x, y), mosaic.plane()(x, y));
  }
}

// Every step is exact for planes; mirroring at the border is not, and reaches as far as the margin.
TEST(Demosaic, RampsAreExactAwayFromBorders) {
  const auto ramp = scene(90, 80, [](int p, int x, int y) { return 100.0 * (p + 1) + (1.5 + p) * x - (2.0 - p) * y; });
  for (const BayerPattern pattern : kPatterns) {
    const auto out = run(mosaic_of(ramp, pattern), pattern);
    for (int p = 0; p < 3; ++p)
      for (int y = kDemosaicMargin; y < 80 - kDemosaicMargin; ++y)
        for (int x = kDemosaicMargin; x < 90 - kDemosaicMargin; ++x)
          EXPECT_NEAR(out.plane(p)(x, y), ramp.plane(p)(x, y), 1e-3) << p << " " << x << " " << y;  // float rounding
  }
}

// Stars of different colours on a bright edge at an angle: what a mosaic finds hard.
Image<float> stars_and_edge(int size) {
  struct Star {
    double x, y, flux, sigma;
    std::array<double, 3> colour;
  };
  std::vector<Star> stars;
  math::Random random(5, 1);
  for (int i = 0; i < 60; ++i) {
    const double tint = random.uniform();
    stars.push_back({random.uniform() * size,
                     random.uniform() * size,
                     3000 + 40000 * random.uniform(),
                     1.1,
                     {1.3 - tint, 1.0, 0.3 + tint}});
  }
  return scene(size, size, [&](int p, int x, int y) {
    const double edge = 1 / (1 + std::exp(-(x * 0.8 + y * 0.6 - 0.7 * size) / 0.6));
    const std::array<double, 3> tint = {1.0, 0.7, 0.5};
    double v = 200 + 400 * edge * tint[static_cast<std::size_t>(p)];
    for (const Star& s : stars) {
      const double r2 = (x - s.x) * (x - s.x) + (y - s.y) * (y - s.y);
      if (r2 < 64)
        v += s.flux * s.colour[static_cast<std::size_t>(p)] / (2 * 3.14159265 * s.sigma * s.sigma) *
             std::exp(-r2 / (2 * s.sigma * s.sigma));
    }
    return v;
  });
}

double mean_squared_error(const Image<float>& a, const Image<float>& b) {
  double sum = 0;
  double count = 0;
  for (int p = 0; p < 3; ++p)
    for (int y = 12; y < a.height() - 12; ++y)
      for (int x = 12; x < a.width() - 12; ++x, ++count) {
        const double d = a.plane(p)(x, y) - b.plane(p)(x, y);
        sum += d * d;
      }
  return sum / count;
}

// Bilinear: the mean of the measured pixels of the colour within 3 x 3.
Image<float> bilinear(const Image<float>& mosaic, BayerPattern pattern) {
  return scene(mosaic.width(), mosaic.height(), [&](int p, int x, int y) {
    if (bayer_plane(pattern, x, y) == p) return static_cast<double>(mosaic.plane()(x, y));
    double sum = 0;
    double count = 0;
    for (int dy = -1; dy <= 1; ++dy)
      for (int dx = -1; dx <= 1; ++dx) {
        const int px = x + dx;
        const int py = y + dy;
        if (px < 0 || py < 0 || px >= mosaic.width() || py >= mosaic.height()) continue;
        if (bayer_plane(pattern, px, py) != p || (p == 1 && dx != 0 && dy != 0)) continue;
        sum += mosaic.plane()(px, py);
        ++count;
      }
    return sum / count;
  });
}

double gain_over_bilinear_db(const Image<float>& truth, BayerPattern pattern) {
  const auto mosaic = mosaic_of(truth, pattern);
  return 10 * std::log10(mean_squared_error(bilinear(mosaic, pattern), truth) /
                         mean_squared_error(run(mosaic, pattern), truth));
}

// Undersampled stars (FWHM 2.6 px) of strong and opposite tints are the hardest scene there is: a third of the stars'
// light falls between the red pixels, and no method can know. 2 dB, a third less error energy, is asked for there; on
// the limb of a grey disc, where the method is at home, 5 dB: the gain published for the best linear filter of 5 x 5
// (Malvar, He & Cutler 2004).
TEST(Demosaic, ClearlyBeatsBilinear) {
  const auto stars = stars_and_edge(256);
  const auto disc = scene(160, 160, [](int p, int x, int y) {
    const double r = std::hypot(x - 80.2, y - 79.4);
    return (100 + 1000 / (1 + std::exp((r - 50) / 0.5))) * (p == 0 ? 0.8 : p == 1 ? 1.0 : 0.9);
  });
  for (const BayerPattern pattern : kPatterns) {
    EXPECT_GT(gain_over_bilinear_db(stars, pattern), 2) << to_string(pattern);
    EXPECT_GT(gain_over_bilinear_db(disc, pattern), 5) << to_string(pattern);
  }
}

TEST(Demosaic, KeepsTheFluxOfAStar) {
  for (const double sigma : {1.3, 2.0, 3.0}) {  // FWHM 3.1, 4.7, 7.1 px
    for (const BayerPattern pattern : kPatterns) {
      for (const std::array<double, 3>& flux : {std::array{9000.0, 16000.0, 12000.0}, {13000.0, 16000.0, 18000.0}}) {
        const auto truth = scene(64, 64, [&](int p, int x, int y) {
          const double r2 = (x - 31.3) * (x - 31.3) + (y - 32.6) * (y - 32.6);
          return 50 + flux[static_cast<std::size_t>(p)] / (2 * 3.14159265358979 * sigma * sigma) *
                          std::exp(-r2 / (2 * sigma * sigma));
        });
        const auto out = run(mosaic_of(truth, pattern), pattern);
        for (int p = 0; p < 3; ++p) {
          double sum = 0;
          for (int y = 12; y < 52; ++y)
            for (int x = 12; x < 52; ++x) sum += out.plane(p)(x, y) - 50;
          EXPECT_NEAR(sum / flux[static_cast<std::size_t>(p)], 1, 0.01)
              << sigma << " " << to_string(pattern) << " " << p;
        }
      }
    }
  }
}

// Stars of one tint on a dark sky, each at another place within the cell of the mosaic, integrated over pixels; Moffat
// profile with beta = 3.5. Light within 1.25 px of the centres in one plane, over the truth.
double core_share(double fwhm, const std::array<double, 3>& tint, const ColourBalance& balance, int plane) {
  constexpr int kSide = 40, kAcross = 6;
  const double core = fwhm / (2 * std::sqrt(std::pow(2, 1 / 3.5) - 1));
  const auto place = [](int i) { return kSide * (i + 0.5) + 2.0 * i / kAcross + 0.1; };
  const auto truth = scene(kSide * kAcross, kSide * kAcross, [&](int p, int x, int y) {
    double sum = 0;
    for (int k = 0; k < 25; ++k) {
      const double dx = x + (k % 5 - 2) / 5.0 - place(x / kSide), dy = y + (k / 5 - 2) / 5.0 - place(y / kSide);
      sum += std::pow(1 + (dx * dx + dy * dy) / (core * core), -3.5) / 25;
    }
    return 100 + 1000 * tint[static_cast<std::size_t>(p)] * sum;
  });
  const auto out = run(mosaic_of(truth, BayerPattern::kRggb), BayerPattern::kRggb, {}, balance);
  double got = 0, expected = 0;
  for (int y = 0; y < truth.height(); ++y)
    for (int x = 0; x < truth.width(); ++x) {
      if (std::hypot(x - place(x / kSide), y - place(y / kSide)) > 1.25) continue;
      got += out.plane(plane)(x, y) - 100;
      expected += truth.plane(plane)(x, y) - 100;
    }
  return got / expected;
}

// What the third colour's detail knows of the star is that of green times a factor; with the factor taken out the core
// is right to 1.5 %, the error that is left to interpolating the profile itself.
TEST(Demosaic, AStarIsAlikeInAllItsColours) {
  const std::array<double, 3> tint = {0.7, 1.0, 0.5};
  for (const double fwhm : {1.8, 2.5, 3.5})
    for (int p = 0; p < 3; ++p)
      EXPECT_NEAR(core_share(fwhm, tint, {1 / 0.7f, 2}, p), 1, 0.015) << fwhm << " plane " << p;
  EXPECT_GT(core_share(2.5, tint, {}, 2), 1.15);  // what the balance is for
}

TEST(Demosaic, BandsWithMarginsGiveTheBitsOfTheWhole) {
  const auto mosaic = noisy_mosaic(163, 140, 8);
  const auto whole = run(mosaic, BayerPattern::kGrbg);
  for (const int first : {33, 50, 71}) {
    const int count = 21;
    const int top = first - kDemosaicMargin;
    const int rows = count + 2 * kDemosaicMargin;
    Image<float> band(163, rows, 3);
    const auto done = demosaic_menon(mosaic.plane().rows(top, rows), bayer_shifted(BayerPattern::kGrbg, 0, top), {},
                                     band.plane(0), band.plane(1), band.plane(2), {});
    ASSERT_TRUE(done.ok());
    for (int p = 0; p < 3; ++p)
      for (int y = 0; y < count; ++y)
        EXPECT_EQ(
            0, std::memcmp(band.plane(p).row(kDemosaicMargin + y), whole.plane(p).row(first + y), 163 * sizeof(float)))
            << first << " " << p << " " << y;
  }
}

TEST(Demosaic, SameBitsForAnyPool) {
  const auto mosaic = noisy_mosaic(301, 333, 9);
  const auto alone = run(mosaic, BayerPattern::kRggb);
  for (const int threads : {1, 2, 3, 8}) {
    ThreadPool pool(threads);
    EXPECT_TRUE(same_bits(alone, run(mosaic, BayerPattern::kRggb, {.pool = &pool}))) << threads;
  }
}

TEST(Demosaic, AHoleIsBridgedAndAWideOneStaysUnknown) {
  const auto ramp = scene(120, 90, [](int p, int x, int y) { return 300.0 + 50 * p + 2.0 * x + 1.0 * y; });
  auto mosaic = mosaic_of(ramp, BayerPattern::kRggb);
  mosaic.plane()(30, 30) = kNan;
  mosaic.plane()(31, 40) = kNan;
  for (int y = 60; y < 68; ++y)
    for (int x = 80; x < 88; ++x) mosaic.plane()(x, y) = kNan;
  const auto out = run(mosaic, BayerPattern::kRggb);
  for (int p = 0; p < 3; ++p) {
    // Symmetric neighbours on a plane: the mean is the value itself.
    EXPECT_NEAR(out.plane(p)(30, 30), ramp.plane(p)(30, 30), 1e-3);
    EXPECT_NEAR(out.plane(p)(31, 40), ramp.plane(p)(31, 40), 1e-3);
    EXPECT_TRUE(std::isnan(out.plane(p)(83, 63)));
    for (int y = 0; y < 90; ++y)
      for (int x = 0; x < 120; ++x)
        EXPECT_TRUE(std::isfinite(out.plane(p)(x, y)) || (x >= 70 && x <= 97 && y >= 50 && y <= 77)) << x << " " << y;
  }
}

TEST(Demosaic, SaysWhatItCannotDo) {
  Image<float> mosaic(3, 9, 1, 1.0f);
  Image<float> out(3, 9, 3);
  const auto small =
      demosaic_menon(mosaic.plane(), BayerPattern::kRggb, {}, out.plane(0), out.plane(1), out.plane(2), {});
  ASSERT_FALSE(small.ok());
  EXPECT_EQ(small.error().code(), Code::kInvalidInput);
  CancelToken cancel;
  cancel.cancel();
  const auto noise = noisy_mosaic(40, 40, 1);
  Image<float> planes(40, 40, 3);
  const auto stopped = demosaic_menon(noise.plane(), BayerPattern::kRggb, {}, planes.plane(0), planes.plane(1),
                                      planes.plane(2), {.cancel = &cancel});
  ASSERT_FALSE(stopped.ok());
  EXPECT_EQ(stopped.error().code(), Code::kCancelled);
}

}  // namespace
}  // namespace ng::reduce
