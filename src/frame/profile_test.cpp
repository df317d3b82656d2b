#include "frame/profile.h"

#include <gtest/gtest.h>

namespace ng {
namespace {

// Relations of the Moffat profile (checks I03-I05: closed forms evaluated in double precision).
TEST(Profile, PublishedRatios) {
  const Profile b3{1, 1, 0, 3.0};
  EXPECT_NEAR(b3.fwhm_px(), 1.0196490570679173, 1e-12);
  EXPECT_NEAR(b3.half_flux_radius_px(), 0.6435942529055827, 1e-12);
  EXPECT_NEAR(b3.noise_area_px(), 3.926990817, 1e-9);
  const Profile turbulence{1, 1, 0, 4.765};
  EXPECT_NEAR(turbulence.fwhm_px(), 0.7914008354475279, 1e-12);
  EXPECT_NEAR(turbulence.half_flux_radius_px() / turbulence.fwhm_px(), 0.568105541677517, 1e-12);
  EXPECT_NEAR(turbulence.noise_area_px(), 1.890466313, 1e-9);
}

TEST(Profile, FluxIsOne) {
  for (const double fwhm : {2.0, 3.0, 6.0}) {
    const Profile p = Profile::round(fwhm, 3.5);
    double sum = 0;
    for (int y = -60; y <= 60; ++y)
      for (int x = -60; x <= 60; ++x) sum += p.over_pixel(x - 0.3, y + 0.2);
    const double outside = std::pow(1 + std::sqrt(p.determinant()) * 60 * 60, 1 - p.beta);  // light beyond the box
    EXPECT_NEAR(sum, 1 - outside, 1e-4) << fwhm;
  }
}

// Against 64 x 64 points: what the four Gauss-Legendre points leave.
TEST(Profile, PeakPixelOfATwoPixelStar) {
  const Profile p = Profile::round(2, 3.5);
  double fine = 0;
  for (int j = 0; j < 64; ++j)
    for (int i = 0; i < 64; ++i) fine += p.at((i + 0.5) / 64 - 0.5, (j + 0.5) / 64 - 0.5) / 4096;
  EXPECT_NEAR(p.over_pixel(0, 0) / fine, 1, 0.004);
}

TEST(Profile, ShapeOfAnEllipse) {
  // Major axis 30 degrees from x, axis ratio 0.6.
  const double c = std::cos(kPi / 6), s = std::sin(kPi / 6), a = 1 / 9.0, b = 1 / 3.24;
  const Profile p{a * c * c + b * s * s, a * s * s + b * c * c, (a - b) * c * s, 4};
  EXPECT_NEAR(p.angle_rad(), kPi / 6, 1e-12);
  EXPECT_NEAR(p.eccentricity(), 0.8, 1e-12);
  EXPECT_NEAR(p.fwhm_px(), std::sqrt(p.fwhm_axes_px()[0] * p.fwhm_axes_px()[1]), 1e-12);
}

}  // namespace
}  // namespace ng
