#include "simulate/seeing_profile.h"

#include <gtest/gtest.h>

#include <cmath>

#include "base/angle.h"

namespace ng::simulate {
namespace {

Image<float> draw(const SeeingProfile& profile, double x, double y, float electrons, float radius, int size) {
  Image<float> image(size, size, 1, 0.0f);
  StarPainter(profile).add({x, y, {electrons}, radius}, 0, image.plane(), [](int, int) { return 0; });
  return image;
}

struct Moments {
  double flux = 0, x = 0, y = 0;
};
Moments moments(const Image<float>& image) {
  Moments m;
  for (int y = 0; y < image.height(); ++y)
    for (int x = 0; x < image.width(); ++x) {
      const double e = image.plane()(x, y);
      m.flux += e;
      m.x += e * x;
      m.y += e * y;
    }
  m.x /= m.flux;
  m.y /= m.flux;
  return m;
}

// Light of a Moffat profile within r: 1 - (1 + r^2/a^2)^(1 - beta). The pixels drawn hold what lies within the drawn
// radius (to half a pixel at the rim), wherever in a pixel the star stands, down to stars 1.5 px wide.
TEST(SeeingProfile, PixelsTogetherHoldTheLight) {
  for (const double beta : {2.5, 3.5, 4.765})
    for (const double fwhm : {1.5, 1.8, 2.6, 5.0})
      for (const double shift : {0.0, 0.25, 0.5}) {
        const SeeingProfile p{beta, fwhm, fwhm, 0};
        const double radius = 60;
        const Moments m = moments(draw(p, 70 + shift, 70 - 0.7 * shift, 1000, radius, 141));
        const double held = 1 - std::pow(1 + std::pow(radius / p.core_px(), 2), 1 - beta);
        EXPECT_NEAR(m.flux / 1000 / held, 1, 2e-4) << beta << ' ' << fwhm << ' ' << shift;
        EXPECT_NEAR(m.x, 70 + shift, 2e-3) << beta << ' ' << fwhm;
        EXPECT_NEAR(m.y, 70 - 0.7 * shift, 2e-3) << beta << ' ' << fwhm;
      }
}

// The single-precision pixel mean against a fine midpoint sum over the same pixel in double precision.
TEST(SeeingProfile, PixelMeanAgainstFineSum) {
  const SeeingProfile p{3.5, 2.1, 1.7, 0.6};
  const StarPainter painter(p);
  for (const double dx : {0.0, 0.4, 1.3, -2.6, 5.0, 14.0})
    for (const double dy : {0.0, -0.3, 2.2, 7.5}) {
      constexpr int kFine = 200;
      double sum = 0;
      for (int j = 0; j < kFine; ++j)
        for (int i = 0; i < kFine; ++i)
          sum += p.at(dx - 0.5 + (i + 0.5) / kFine, dy - 0.5 + (j + 0.5) / kFine) / (kFine * kFine);
      float drawn = 0;
      painter.row_shares(static_cast<float>(dx), static_cast<float>(dy), 1, &drawn);
      // Relative to the peak in the core; far out the midpoint alone is good to 2 % of next to nothing.
      EXPECT_NEAR(drawn, sum, 3e-5 * p.peak() + 0.02 * sum * (std::hypot(dx, dy) > 4)) << dx << ' ' << dy;
    }
}

// FWHM / core of a Moffat profile: 1.0196490570679173 for beta 3, 0.7914008354475279 for beta 4.765 (Trujillo et al.
// 2001, MNRAS 328, 977). Half the peak is reached at half the FWHM along each axis.
TEST(SeeingProfile, WidthsAreThoseOfTheMoffatProfile) {
  EXPECT_NEAR((SeeingProfile{3, 4, 4, 0}.fwhm_px() / SeeingProfile{3, 4, 4, 0}.core_px()), 1.0196490570679173, 1e-12);
  EXPECT_NEAR((SeeingProfile{4.765, 4, 4, 0}.fwhm_px() / SeeingProfile{4.765, 4, 4, 0}.core_px()), 0.7914008354475279,
              1e-12);
  const SeeingProfile oval{3.5, 4, 2.5, 0.5};
  EXPECT_NEAR(oval.at(2 * std::cos(0.5), 2 * std::sin(0.5)), oval.peak() / 2, 1e-12);
  EXPECT_NEAR(oval.at(-1.25 * std::sin(0.5), 1.25 * std::cos(0.5)), oval.peak() / 2, 1e-12);
}

// What is left out beyond the drawn radius falls below the asked level.
TEST(SeeingProfile, RadiusReachesTheFloor) {
  const SeeingProfile p{3.5, 2.6, 2.2, 0};
  for (const double electrons : {50.0, 1e3, 1e5, 1e7}) {
    const double r = p.radius_px(electrons, 0.02);
    EXPECT_LE(electrons * p.at(r, 0), 0.02);
    const double lost = std::pow(1 + std::pow(r / p.core_px(), 2), 1 - p.beta);
    EXPECT_LT(lost, electrons >= 1e3 ? 1e-3 : 6e-3) << electrons;
  }
}

// Bands of rows add up to the whole picture, bit for bit.
TEST(SeeingProfile, BandsMakeTheWhole) {
  const SeeingProfile p{3.5, 2.6, 2.2, 0.3};
  const StarPainter painter(p);
  const StarPainter::Spot spot{20.3, 15.8, {5000}, 14};
  const auto mono = [](int, int) { return 0; };
  Image<float> whole(40, 32, 1, 0.0f), banded(40, 32, 1, 0.0f);
  painter.add(spot, 0, whole.plane(), mono);
  for (int y0 = 0; y0 < 32; y0 += 8) painter.add(spot, y0, banded.plane().rows(y0, 8), mono);
  for (int y = 0; y < 32; ++y)
    for (int x = 0; x < 40; ++x) EXPECT_EQ(whole.plane()(x, y), banded.plane()(x, y));
}

}  // namespace
}  // namespace ng::simulate
