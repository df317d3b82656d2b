#include "rig/focus_depth.h"

#include <gtest/gtest.h>

#include <cmath>

#include "rig/filter.h"
#include "rig/guide_optics.h"
#include "rig/rig.h"

namespace ng::rig {
namespace {

// 206264.80624709636 p / f, evaluated by an independent program.
TEST(Optics, PlateScale) {
  const double expected[][3] = {{3.76, 760, 1.020467988801424},
                                {3.76, 950, 0.8163743910411393},
                                {4.63, 480, 1.9895959435917838},
                                {9, 2032, 0.913574437118045}};
  for (const auto& [pixel_um, focal_mm, scale] : expected)
    EXPECT_NEAR((Optics{"", 100, 0, focal_mm, 1}).scale_arcsec_px(pixel_um), scale, 1e-9);
}

// Common practice, no source: a 0.8 x reducer makes 760 mm of 950 mm and f/6 of f/7.5; a 30 mm f/4 guide scope has 120
// mm.
TEST(Optics, ReducerAndGuideScope) {
  const Optics optics{"", 950 / 7.5, 0, 950, 1, 0.8};
  EXPECT_NEAR(optics.effective_focal_length_mm(), 760, 1e-9);
  EXPECT_NEAR(optics.focal_ratio(), 6, 1e-12);
  EXPECT_EQ((Optics{"", 30, 0, 120, 1}).focal_ratio(), 4);
}

// Geometry, 2 atan(side / 2f), evaluated by an independent program.
TEST(Optics, Field) {
  EXPECT_NEAR(field_deg(6248 * 3.76e-3, 760), 1.770937885329935, 1e-9);
  EXPECT_NEAR(field_deg(4176 * 3.76e-3, 760), 1.183700763547508, 1e-9);
  EXPECT_NEAR(field_deg(23.5, 950), 1.4172443850663883, 1e-9);
  EXPECT_NEAR(field_deg(15.7, 950), 0.9468665954158657, 1e-9);
}

// Born & Wolf, ch. 8, by zeros of Bessel functions (scipy).
TEST(FocusDepth, Diffraction) {
  const double expected[][2] = {{80, 1.7295779449265805}, {100, 1.3836623559412644}, {203, 0.6816070718922485}};
  for (const auto& [aperture_mm, radius] : expected)
    EXPECT_NEAR(airy_radius_arcsec({"", aperture_mm, 0, 500, 1}, 550), radius, 1e-6);
  EXPECT_NEAR(diffraction_fwhm_arcsec({"", 100, 0, 500, 1}, 550) / airy_radius_arcsec({"", 100, 0, 500, 1}, 550),
              1.0289939699621886 / 1.21966989, 1e-8);
}

// 4.88 lambda N^2 and 2 lambda N^2 (Conrady: a quarter wave) at 550 nm.
TEST(FocusDepth, ZonesOfFocus) {
  const double expected[][3] = {{4, 42.944, 17.6}, {5, 67.10, 27.5}, {7.5, 150.975, 61.875}};
  for (const auto& [ratio, zone, quarter] : expected) {
    EXPECT_NEAR(airy_focus_zone_um(ratio, 550), zone, 1e-3);
    EXPECT_NEAR(quarter_wave_defocus_um(ratio, 550), quarter, 1e-3);
  }
  EXPECT_NEAR(defocus_disc_um(100, 5), 20, 1e-12);
  // At the end of the zone of seeing the disc widens a star by the share: sqrt(w^2 + d^2) = (1 + share) w.
  const Optics optics{"", 100, 0, 500, 1};
  const double fwhm_um = 3 / 206264.80624709636 * 500e3;
  const double disc_um = defocus_disc_um(seeing_focus_zone_um(optics, 3, 0.1) / 2, 5);
  EXPECT_NEAR(std::hypot(fwhm_um, disc_um), 1.1 * fwhm_um, 1e-9);
}

// t (n - 1) / n, paraxial; 23.1e-6 per kelvin of aluminium over 600 mm and 10 K.
TEST(FocusDepth, GlassAndTube) {
  Filter filter{"V", 550, 88, 0, 1, 2, 1.52};
  EXPECT_NEAR(filter.focus_shift_mm(), 0.6842105263157895, 1e-9);
  filter.thickness_mm = 3;
  filter.refractive_index = 1.5168;
  EXPECT_NEAR(filter.focus_shift_mm(), 1.0221518987341771, 1e-9);
  EXPECT_NEAR(tube_growth_um(600, 10), 138.6, 1e-9);
}

// 2 samples across the width are the least: seeing of 2, 3, 4 arcsec asks for 1, 1.5, 2 arcsec/px at most.
TEST(FocusDepth, Sampling) {
  for (const double fwhm : {2.0, 3.0, 4.0}) {
    EXPECT_EQ(sampling_of(fwhm / 2 * 1.01, fwhm), Sampling::kCoarse);
    EXPECT_EQ(sampling_of(fwhm / 2 * 0.99, fwhm), Sampling::kFit);
    EXPECT_EQ(sampling_of(fwhm / 4, fwhm), Sampling::kFine);
  }
}

// Fried's 0.98 lambda / r0 and Kolmogorov's X^0.6, evaluated by an independent program.
TEST(FocusDepth, Seeing) {
  EXPECT_NEAR(seeing_fwhm_arcsec(0.10, 500), 1.010697550610772, 1e-6);
  EXPECT_NEAR(seeing_fwhm_arcsec(0.15, 500), 0.6737983670738481, 1e-6);
  EXPECT_NEAR(seeing_growth(1.5), 1.2754245006257907, 1e-9);
  EXPECT_NEAR(seeing_growth(2.0), 1.515716566510398, 1e-9);
}

// 3.75 um at 120 mm is 6.4458 arcsec/px; 3 pixels of 1.0205 arcsec are 0.475 guide pixels (206264.8 p / f by hand).
TEST(GuideOptics, DitherInGuidePixels) {
  const GuideOptics guide{30, 120, 3.75, 1280, 960};
  EXPECT_NEAR(3 * guide_pixels_per_main_pixel(guide, 1.020467988801424), 0.474947, 1e-5);
}

}  // namespace
}  // namespace ng::rig
