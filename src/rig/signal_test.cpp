#include "rig/signal.h"

#include <gtest/gtest.h>

#include <cmath>

#include "base/angle.h"
#include "rig/spectrum.h"

namespace ng::rig {
namespace {

constexpr double kHonest = 0.01;  // N0 of V is uncertain by 1 % between readings of Bessell et al. 1998

Band clear_band(double aperture_mm, double efficiency) {
  return {kPi / 4 * aperture_mm * aperture_mm / 100, 880, efficiency, 995.5};
}

TEST(Signal, PhotonsOfMagnitudeZero) {
  EXPECT_NEAR(kPhotonsVisualZero, 996.1988104927428, 0.01);       // table A2 of Bessell et al. 1998, evaluated
  EXPECT_NEAR(kPhotonsVisualZero, 998.8095, kHonest * 998.8095);  // from 3640 Jy, Bessell 1979
}

// V 10 through 100 mm, 880 A: 6880.402 photons/s with N0 = 995.5, evaluated by an independent program.
TEST(Signal, StarRate) {
  EXPECT_NEAR(star_rate_e_s(clear_band(100, 1), 10, 0, 1), 6880.402070627006, 1e-6);
  EXPECT_NEAR(star_rate_e_s(clear_band(100, 1), 10, 0.2, 2) / star_rate_e_s(clear_band(100, 1), 10, 0.2, 1),
              0.831763771102671, 1e-12);
}

TEST(Signal, SkyRatePerPixel) {
  EXPECT_NEAR(sky_rate_e_s(clear_band(125, 0.5), 1.020467988801424, 21.0), 0.22284485923309885, 1e-6);
  const double expected[][2] = {
      {18, 2.1706201097194184}, {20, 0.3440201035313503}, {21, 0.13695687003038695}, {22, 0.054523512015660365}};
  for (const auto& [mu, rate] : expected) EXPECT_NEAR(sky_rate_e_s(clear_band(100, 0.5), 1, mu), rate, 1e-6);
  // The same brightness above the air arrives dimmed; that of the sky as seen does not.
  EXPECT_NEAR(surface_rate_e_s(clear_band(100, 0.5), 1, 21, 0.25, 1), sky_rate_e_s(clear_band(100, 0.5), 1, 21.25),
              1e-12);
}

// One rayleigh is 2.41e-7 erg/s/cm^2/sr at H-alpha (common practice, from memory: 5.66e-18 erg/s/cm^2/arcsec^2).
TEST(Signal, OneRayleighAtHAlpha) {
  const double photon_erg = 6.62607015e-27 * 2.99792458e10 / 656.28e-7;
  EXPECT_NEAR(line_rate_e_s(1, 1, 1, 1) * photon_erg, 5.66e-18, 0.01e-18);
}

TEST(Signal, ShortestSub) {
  const double expected[][4] = {{1.5, 1, .05, 21.951219512195113},
                                {3.5, .5, .05, 239.02439024390236},
                                {3.5, .5, .10, 116.66666666666656},
                                {1.5, .05, .05, 439.02439024390225}};
  for (const auto& [r, b, p, t] : expected) EXPECT_NEAR(shortest_sub_s(r, b, p), t, 1e-9);
}

// Sky of 3, 5, 10 times the squared read noise: the noise grows by 15.5, 9.5, 4.9 %.
TEST(Signal, ReadNoiseShare) {
  const double expected[][2] = {{3, 0.15470053837925146}, {5, 0.09544511501033215}, {10, 0.04880884817015163}};
  for (const auto& [n, share] : expected) {
    const PixelExposure with{0, n * 4, 0, 2, 0, 1};
    EXPECT_NEAR(std::sqrt(with.variance_e2() / with.mean_e()) - 1, share, 1e-12);
  }
}

// EMVA 1288 R4.0: SNR = eta mu / sqrt(sigma_d^2 + sigma_q^2 / K^2 + eta mu), sigma_q^2 = 1/12 DN^2; K = 0.25 DN/e,
// sigma_d = 3.5 e, eta = 0.6, evaluated by an independent program.
TEST(Signal, SnrOfEmva1288) {
  const double expected[][2] = {{1, 0.15931699106741004},   {10, 1.355838438878477},  {100, 6.994578065209207},
                                {1000, 24.222249495803823}, {1e4, 77.37213547760021}, {1e5, 244.92125212216}};
  for (const auto& [photons, snr] : expected)
    EXPECT_NEAR(extended_snr({0.6 * photons, 0, 0, 3.5, 4, 1}, 1, 1), snr, 1e-9 * (1 + snr));
}

TEST(Signal, SixtyFramesGainTheirRoot) {
  const PixelExposure e{0.1, 0.5, 0.01, 1.5, 0.8, 300};
  EXPECT_NEAR(extended_snr(e, 1, 60) / extended_snr(e, 1, 1), 7.745966692414834, 1e-12);
  EXPECT_NEAR(star_snr(e, 1.2, 60) / star_snr(e, 1.2, 1), 7.745966692414834, 1e-12);
}

// CCD equation (Merline & Howell 1995, Exp. Astron. 6, 163) without the terms of background estimate and rounding:
// 10000 e of star over 50 px, sky 100 e, dark 5 e, read noise 5 e -> 77.8498944161523. Over the noise-equivalent area
// of the same 50 px.
TEST(Signal, StarSnrIsTheCcdEquation) {
  const PixelExposure e{10000, 100, 5, 5, 0, 1};
  EXPECT_NEAR(star_snr(e, std::sqrt(50 / (4 * kPi)), 1), 77.8498944161523, 1e-9);
}

// Ballesteros 2012 for the Sun's B-V of 0.65, evaluated: 5778.42 K (the Sun's effective temperature is 5772 K).
TEST(Spectrum, TemperatureOfTheSun) {
  EXPECT_NEAR(temperature_from_colour_k(0.65), 5778.42, 0.01);
}

TEST(Spectrum, NarrowBandAtVisualGivesTheVisualRate) {
  const Optics optics{"test", 100, 0, 500, 1};
  const Curve flat{{{300, 0.5}, {1000, 0.5}}};
  const Filter narrow{"V", 550, 1, 0, 1};
  const Band band{optics.area_cm2(), 10, 0.5, kPhotonsVisualZero};
  for (const double colour : {-0.2, 0.65, 1.5})
    EXPECT_NEAR(band_response(optics, narrow, flat, colour).electrons_v0 / star_rate_e_s(band, 0, 0, 0), 1, 1e-4);
  // Hot stars give more blue, cool stars more red.
  const Filter blue{"B", 450, 80, 10, 1}, red{"R", 640, 80, 10, 1};
  EXPECT_GT(band_response(optics, blue, flat, -0.2).electrons_v0, band_response(optics, red, flat, -0.2).electrons_v0);
  EXPECT_LT(band_response(optics, blue, flat, 1.5).electrons_v0, band_response(optics, red, flat, 1.5).electrons_v0);
}

}  // namespace
}  // namespace ng::rig
