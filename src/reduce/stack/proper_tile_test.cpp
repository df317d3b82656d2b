#include "reduce/stack/proper_tile.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <complex>
#include <vector>

#include "base/angle.h"
#include "math/random.h"
#include "reduce/stack/spectrum_profile.h"

namespace ng::reduce {
namespace {

constexpr int kSide = 256;

// A night of frames that differ in seeing, noise and (on the common scale, through it) transparency.
struct Night {
  std::vector<double> fwhm_px, sigma;
  std::vector<ProfileTransform> transforms;
  GridResponse grid = GridResponse::plain();
  std::vector<TileFrame> frames;
  std::vector<Image<float>> images;  // signal, without noise

  Night(const Night&) = delete;
  explicit Night(double sharpest_px = 2) : fwhm_px{sharpest_px, 2.6, 3.3, 4.1, 5.0}, sigma{20, 12, 15, 9, 11} {
    transforms.reserve(fwhm_px.size());
    for (std::size_t j = 0; j < fwhm_px.size(); ++j) {
      transforms.emplace_back(3.5);
      TileFrame f;
      f.transform = &transforms.back();
      f.grid = &grid;
      f.profile = Profile::round(fwhm_px[j], 3.5);
      f.information = static_cast<float>(1 / (sigma[j] * sigma[j]));
      f.mean_weight = f.information;
      f.signal_share = f.information;  // electrons
      frames.push_back(f);
      images.emplace_back(kSide, kSide, 1, 0.0f);
    }
  }

  void add_star(double x0, double y0, double flux) {
    for (std::size_t j = 0; j < frames.size(); ++j)
      for (int y = 0; y < kSide; ++y)
        for (int x = 0; x < kSide; ++x)
          images[j].plane()(x, y) += static_cast<float>(flux * frames[j].profile.over_pixel(x - x0, y - y0));
  }
  void add_noise(std::uint64_t seed) {
    for (std::size_t j = 0; j < frames.size(); ++j) {
      math::Random random(seed, j);
      for (int y = 0; y < kSide; ++y)
        for (int x = 0; x < kSide; ++x) images[j].plane()(x, y) += static_cast<float>(sigma[j] * random.normal());
    }
  }
  [[nodiscard]] double information() const {
    double sum = 0;
    for (const double s : sigma) sum += 1 / (s * s);
    return sum;
  }
  // Weighted mean of what is there.
  [[nodiscard]] Image<float> mean() const {
    Image<float> result(kSide, kSide, 1, 0.0f);
    for (std::size_t j = 0; j < frames.size(); ++j)
      for (int y = 0; y < kSide; ++y)
        for (int x = 0; x < kSide; ++x)
          result.plane()(x, y) += static_cast<float>(images[j].plane()(x, y) / (sigma[j] * sigma[j]) / information());
    return result;
  }
};

struct Coadded {
  Image<float> image, profile;
  std::vector<Image<Fate>> fates;
};

Coadded coadd(const Night& night, const Image<float>& master, const OutlierRule& rule) {
  const math::SquareTransform transform(kSide);
  ProperTile tile(transform);
  TileScratch scratch(transform);
  const Image<float> sky(kSide, kSide, 1, 0.0f);
  tile.begin(master, sky, night.frames, scratch);
  Coadded result{transform.tile(), {}, {}};
  for (std::size_t j = 0; j < night.frames.size(); ++j) {
    scratch.values = night.images[j].clone();
    scratch.variance.fill(static_cast<float>(night.sigma[j] * night.sigma[j]));
    tile.add(night.frames[j], rule, scratch);
    result.fates.push_back(scratch.fate.clone());
  }
  tile.finish(result.image, scratch);
  result.profile = tile.profile();
  return result;
}

constexpr OutlierRule kKeepAll{.reject = false};

// The profile of the coadded tile, in pixels, its middle at (x0, y0).
Image<float> profile_picture(const Image<float>& half, double x0, double y0) {
  const math::SquareTransform transform(kSide);
  math::Spectrum waves = transform.spectrum();
  for (int j = 0; j < kSide; ++j)
    for (int i = 0; i <= kSide / 2; ++i)
      waves.plane()(i, j) =
          half.plane()(i, j) *
          std::polar(1.0f, static_cast<float>(-2 * kPi / kSide * (i * x0 + (2 * j > kSide ? j - kSide : j) * y0)));
  Image<float> result = transform.tile();
  transform.inverse(waves, result);
  return result;
}

// A star of flux 5e5 stands in the result as 5e5 times P_R, whatever the master was that the frames are compared with.
TEST(ProperTile, StarsHaveTheStatedProfileAndTheirFlux) {
  Night night(2.5);
  night.add_star(120, 131, 5e5);
  for (const bool with_star : {true, false}) {
    const Coadded c = coadd(night, with_star ? night.mean() : Image<float>(kSide, kSide, 1, 0.0f), kKeepAll);
    const Image<float> expected = profile_picture(c.profile, 120, 131);
    double flux = 0;
    for (int y = 0; y < kSide; ++y)
      for (int x = 0; x < kSide; ++x) {
        flux += c.image.plane()(x, y);
        // Pixels of 2 x 2 points, and what folds over the Nyquist frequency of the sharpest frame: 2e-3 of its peak.
        ASSERT_NEAR(c.image.plane()(x, y) / 5e5, expected.plane()(x, y), 3e-4) << x << " " << y;
      }
    EXPECT_NEAR(flux / 5e5, 1, 2e-3);  // what of the wings lies outside
  }
}

// White to the resolution of the test: power in rings, each of thousands of waves; and of the stated variance.
TEST(ProperTile, NoiseIsWhiteAndOfTheStatedVariance) {
  Night night;
  night.add_noise(11);
  const Coadded c = coadd(night, night.mean(), kKeepAll);
  const math::SquareTransform transform(kSide);
  math::Spectrum waves = transform.spectrum();
  transform.forward(c.image, waves);
  std::array<double, 8> power{}, count{};
  for (int j = 0; j < kSide; ++j)
    for (int i = 1; i < kSide / 2; ++i) {
      const std::size_t ring = static_cast<std::size_t>(std::max(i, std::min(j, kSide - j)) / 16);
      if (ring > 7) continue;
      power[ring] += std::norm(waves.plane()(i, j)) / (kSide * kSide) * night.information();
      count[ring] += 1;
    }
  for (std::size_t ring = 0; ring < 8; ++ring)
    EXPECT_NEAR(power[ring] / count[ring], 1, 4.5 / std::sqrt(count[ring])) << ring;
}

// The squared signal-to-noise ratio of a star, found with P_R, is the sum of what the frames had: the theorem of the
// paper. Noise by simulation, the star by its profile.
TEST(ProperTile, NothingThatTheFramesKnewOfFaintStarsIsLost) {
  Night night;
  double optimum = 0;
  for (std::size_t j = 0; j < night.frames.size(); ++j) {
    double squares = 0;
    for (int y = -60; y <= 60; ++y)
      for (int x = -60; x <= 60; ++x) squares += std::pow(night.frames[j].profile.over_pixel(x, y), 2);
    optimum += squares / (night.sigma[j] * night.sigma[j]);
  }
  night.add_noise(12);
  const Coadded c = coadd(night, night.mean(), kKeepAll);
  const math::SquareTransform transform(kSide);
  math::Spectrum waves = transform.spectrum();
  transform.forward(c.image, waves);
  for (int j = 0; j < kSide; ++j)
    for (int i = 0; i <= kSide / 2; ++i) waves.plane()(i, j) *= c.profile.plane()(i, j);
  Image<float> filtered = transform.tile();
  transform.inverse(waves, filtered);
  double noise = 0;
  for (int y = 0; y < kSide; ++y)
    for (int x = 0; x < kSide; ++x) noise += std::pow(filtered.plane()(x, y), 2);
  noise /= kSide * kSide;
  const double signal = 1 / profile_size(c.profile).noise_area_px;
  // 65536 pixels hold about 65536 / (4 pi s^2) = 2500 independent values: the noise is known to 1.5 %.
  EXPECT_NEAR(signal / std::sqrt(noise) / std::sqrt(optimum), 1, 0.04);
  EXPECT_NEAR(night.information() * signal / optimum, 1, 0.01);  // without the noise's own scatter
}

// A bright star is sharper in one frame, wider in another: no outlier. A cosmic ray and a gap are none of the star's.
TEST(ProperTile, SeeingIsNoOutlierButACosmicRayIs) {
  Night night;
  night.add_star(100, 100, 3e6);
  night.add_star(60.4, 170.3, 4e4);
  const Image<float> clean = coadd(night, night.mean(), kKeepAll).image;
  const Image<float> master = night.mean();
  night.images[1].plane()(180, 60) += 3000;
  night.images[1].plane()(181, 61) += 45;  // its flank, 3.3 sigma of the difference
  night.images[1].plane()(190, 61) += 45;  // the same elsewhere is noise
  for (int y = 90; y < 110; ++y) night.images[3].plane()(103, y) = std::nanf("");
  const Coadded c = coadd(night, master, {});
  int outliers = 0;
  for (const Image<Fate>& fate : c.fates)
    for (int y = 0; y < kSide; ++y)
      for (int x = 0; x < kSide; ++x) outliers += fate.plane()(x, y) == Fate::kOutlier ? 1 : 0;
  EXPECT_EQ(outliers, 2);
  EXPECT_EQ(c.fates[1].plane()(181, 61), Fate::kOutlier);
  EXPECT_EQ(c.fates[1].plane()(180, 60), Fate::kOutlier);
  EXPECT_EQ(c.fates[3].plane()(103, 95), Fate::kAbsent);
  const double noise = 1 / std::sqrt(night.information());
  EXPECT_NEAR(c.image.plane()(180, 60), clean.plane()(180, 60), 0.1 * noise);
  // Under the gap stands the prediction, which beside a star of 3e6 electrons is right to a thousandth of its peak.
  const double peak = clean.plane()(100, 100);
  for (int y = 90; y < 110; ++y) EXPECT_NEAR(c.image.plane()(103, y), clean.plane()(103, y), 2e-3 * peak) << y;
}

}  // namespace
}  // namespace ng::reduce
