#include "reduce/stack/profile_transform.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <vector>

#include "base/image.h"
#include "math/random.h"
#include "math/resample.h"
#include "math/square_transform.h"

namespace ng::reduce {
namespace {

constexpr int kSide = 64;

// One value per wave number of the half spectrum.
struct Whole {
  Image<float> signal{kSide / 2 + 1, kSide}, noise{kSide / 2 + 1, kSide};
};

Whole whole(const Profile& profile, const math::Affine& to_master, const GridResponse& grid) {
  Whole result;
  const ProfileTransform transform(profile.beta);
  for (int j = 0; j < kSide; ++j)
    transform.row(profile, to_master, grid, kSide, j, {result.signal.plane().row(j), result.noise.plane().row(j)});
  return result;
}

// Against the transform of the profile itself, summed over pixels: elongated, and brought onto the master by a turn and
// a mirroring. What is cut off outside of the tile and what folds over its Nyquist frequency amounts to 1e-3.
TEST(ProfileTransform, IsTheTransformOfTheProfile) {
  for (const double beta : {2.5, 3.5, 4.765, 60.0}) {
    Profile p = Profile::round(3.8, beta);
    p.cxx *= 1.3;
    p.cxy = 0.15 * p.cxx;
    const math::Affine turn = math::Affine::similarity(1, 0.6, 0, 0);
    const math::Affine to_master = math::Affine{-1, 0, 0, 0, 1, 0}.after(turn);
    const math::Affine back = to_master.inverse();
    Image<float> tile(kSide, kSide);
    for (int y = 0; y < kSide; ++y)
      for (int x = 0; x < kSide; ++x) {
        // The frame's pixel is turned too: its mean is taken over 6 x 6 points.
        const double dx = x < kSide / 2 ? x : x - kSide, dy = y < kSide / 2 ? y : y - kSide;
        const math::Point at = back.apply({dx, dy});
        double sum = 0;
        for (int a = 0; a < 6; ++a)
          for (int b = 0; b < 6; ++b) sum += p.at(at.x + (a - 2.5) / 6, at.y + (b - 2.5) / 6);
        tile.plane()(x, y) = static_cast<float>(sum / 36);
      }
    const math::SquareTransform transform(kSide);
    math::Spectrum expected = transform.spectrum();
    transform.forward(tile, expected);
    const Whole got = whole(p, to_master, GridResponse::plain());
    const double cut = beta < 3 ? 5e-3 : 1.5e-3;  // wings outside of the tile
    for (int j = 0; j < kSide; ++j)
      for (int i = 0; i <= kSide / 2; ++i)
        ASSERT_NEAR(got.signal.plane()(i, j), expected.plane()(i, j).real(), cut) << beta << " " << i << " " << j;
  }
}

// A Gaussian is the limit of large beta; beta = 2 has K_1, of which Abramowitz & Stegun, table 9.8, gives K_1(1).
TEST(ProfileTransform, KnownValues) {
  EXPECT_NEAR(moffat_transform(1, 2), 0.6019072302, 1e-9);
  EXPECT_NEAR(moffat_transform(0, 3), 1, 0);
  // Where one way of computing it takes over from another.
  EXPECT_NEAR(moffat_transform(12, 89.99), moffat_transform(12, 90.01), 1e-4);
  EXPECT_NEAR(moffat_transform(0.999, 30), moffat_transform(1.001, 30), 1e-4);
}

// Whatever the stars' concentration: it falls to nothing, and never rises.
TEST(ProfileTransform, FallsForEveryConcentration) {
  for (const double beta : {1.06, 1.5, 2.0, 3.5, 19.0, 21.0, 45.0, 89.0, 91.0, 1000.0}) {
    double before = 1;
    for (double s = 0; s < 2000; s = 1.1 * s + 0.01) {
      const double now = moffat_transform(s, beta);
      ASSERT_LE(now, before + 1e-9) << beta << " " << s;
      before = now;
    }
    EXPECT_LT(before, 1e-12) << beta;
    const ProfileTransform made(beta);  // ends
  }
}

// Noise that was interpolated: its power, and the light that a wave keeps, averaged over places between pixels.
TEST(ProfileTransform, KnowsWhatInterpolationDoesToNoise) {
  constexpr int kFrames = 60;
  math::Random random(3, 1);
  const math::LanczosPolynomials lanczos;
  const math::SquareTransform transform(kSide);
  math::Spectrum spectrum = transform.spectrum();
  Image<float> power(kSide / 2 + 1, kSide, 1, 0.0f);
  for (int frame = 0; frame < kFrames; ++frame) {
    Image<float> pixels(kSide + 16, kSide + 16);
    for (int y = 0; y < pixels.height(); ++y)
      for (int x = 0; x < pixels.width(); ++x) pixels.plane()(x, y) = static_cast<float>(random.normal());
    Image<float> out = transform.tile(), squares = transform.tile();
    const math::Homography shift(math::Affine{1, 0, 8 + random.uniform(), 0, 1, 8 + random.uniform()});
    math::ResampleOptions options;
    options.guard = 100;
    math::resample_rows({pixels.plane(), {}, 0}, shift, 0, out.plane(), squares.plane(), options, lanczos);
    transform.forward(out, spectrum);
    for (int j = 0; j < kSide; ++j)
      for (int i = 0; i <= kSide / 2; ++i)
        power.plane()(i, j) += std::norm(spectrum.plane()(i, j)) / (kSide * kSide * kFrames);
  }
  const Whole expected = whole(Profile::round(2, 3), {}, GridResponse::lanczos());
  // In rings of wave numbers: 60 frames of some hundred values each, known to 2 %.
  std::array<double, 8> sum{}, model{};
  for (int j = 0; j < kSide; ++j)
    for (int i = 0; i <= kSide / 2; ++i) {
      const std::size_t ring = static_cast<std::size_t>(std::max(i, std::min(j, kSide - j)) * 7 / 32);
      sum[ring] += power.plane()(i, j);
      model[ring] += expected.noise.plane()(i, j);
    }
  for (std::size_t ring = 0; ring < 8; ++ring) EXPECT_NEAR(sum[ring] / model[ring], 1, ring == 0 ? 0.08 : 0.04) << ring;
}

}  // namespace
}  // namespace ng::reduce
