// The camera as a camera tester sees it: gain, read noise and dark current recovered from frames by the method of EMVA
// 1288 (photon transfer on differences of two frames), within their own statistical errors.
#include <gtest/gtest.h>

#include <cmath>

#include "simulate/small_night.h"

namespace ng::simulate {
namespace {

Night quiet_camera() {
  Scenario s = small_scenario(640, 480);
  s.target.nebula_rayleighs = 0;
  s.camera.cosmic_rays_cm2_min = 0;
  return std::move(*Night::prepare(s, nullptr, {}));
}

struct Pair {
  double mean = 0;      // of both frames, ADU
  double variance = 0;  // of one frame, from the difference of the two scaled to one level, ADU^2
  int count = 0;
};

Pair difference(const Image<std::uint16_t>& a, const Image<std::uint16_t>& b, double offset) {
  double sum_a = 0, sum_b = 0;
  const int n = a.width() * a.height();
  for (int y = 0; y < a.height(); ++y)
    for (int x = 0; x < a.width(); ++x) {
      sum_a += a.plane()(x, y) - offset;
      sum_b += b.plane()(x, y) - offset;
    }
  const double ratio = sum_b != 0 && sum_a / n > 100 ? sum_a / sum_b : 1;
  double sum2 = 0;
  for (int y = 0; y < a.height(); ++y)
    for (int x = 0; x < a.width(); ++x)
      sum2 += std::pow(a.plane()(x, y) - offset - ratio * (b.plane()(x, y) - offset), 2);
  return {(sum_a + sum_b) / (2 * n), sum2 / n / (1 + ratio), n};
}

// Variance against mean of flats has the slope 1/gain. The standard error of a variance from n differences is
// sqrt(2/n); five of them.
TEST(PhotonTransfer, GainFromFlats) {
  const Night night = quiet_camera();
  const rig::Sensor& sensor = night.scenario().camera.sensor;
  const Pair flats = difference(take_calibration(night, FrameKind::kFlat, 1),
                                take_calibration(night, FrameKind::kFlat, 2), sensor.offset_adu);
  const Pair bias = difference(take_calibration(night, FrameKind::kBias, 1),
                               take_calibration(night, FrameKind::kBias, 2), sensor.offset_adu);
  const double gain = flats.mean / (flats.variance - bias.variance);
  EXPECT_NEAR(gain / sensor.gain_e_adu, 1, 5 * std::sqrt(2.0 / flats.count));
  EXPECT_NEAR(flats.mean * sensor.gain_e_adu / (night.flat_level_e() * night.camera().mean_response[0]), 1,
              5 * 0.02 / std::sqrt(2.0));  // lamp level changes by 2 % from flat to flat
}

// Read noise with the rounding noise g^2/12 of the converter (EMVA 1288).
TEST(PhotonTransfer, ReadNoiseFromBias) {
  const Night night = quiet_camera();
  const rig::Sensor& sensor = night.scenario().camera.sensor;
  const Pair bias = difference(take_calibration(night, FrameKind::kBias, 1),
                               take_calibration(night, FrameKind::kBias, 2), sensor.offset_adu);
  const double g = sensor.gain_e_adu;
  const double expected = sensor.read_noise_e * sensor.read_noise_e + g * g / 12;
  EXPECT_NEAR(bias.variance * g * g / expected, 1, 5 * std::sqrt(2.0 / bias.count));
  EXPECT_NEAR(bias.mean, 0, 5 * night.scenario().camera.column_scatter_adu / std::sqrt(sensor.width));
}

// Dark minus bias, averaged over the frame, is the mean of the dark map; its error is that of photon and read noise.
TEST(PhotonTransfer, DarkCurrentFromDarks) {
  const Night night = quiet_camera();
  const rig::Sensor& sensor = night.scenario().camera.sensor;
  const double seconds = night.scenario().exposures.light_s;
  const Image<std::uint16_t> dark = take_calibration(night, FrameKind::kDark, 1),
                             bias = take_calibration(night, FrameKind::kBias, 1);
  double sum = 0, expected = 0, variance = 0;
  for (int y = 0; y < dark.height(); ++y)
    for (int x = 0; x < dark.width(); ++x) {
      sum += (dark.plane()(x, y) - bias.plane()(x, y)) * sensor.gain_e_adu;
      const double e = night.camera().dark_e_s.plane()(x, y) * seconds;
      expected += e;
      variance += e + 2 * (sensor.read_noise_e * sensor.read_noise_e + sensor.gain_e_adu * sensor.gain_e_adu / 12);
    }
  EXPECT_NEAR(sum, expected, 5 * std::sqrt(variance));
  EXPECT_GT(sum, 100 * std::sqrt(variance));  // there is something to measure
}

// A light without stars, nebula, rays or satellite: each pixel against its own expectation and variance. The pulls have
// mean 0 and variance 1 (five standard errors).
TEST(PhotonTransfer, PullsOfALight) {
  Scenario s = small_scenario(640, 480);
  s.target.nebula_rayleighs = 0;
  s.target.field_stars_per_deg2 = 0;
  s.target.cluster_stars = 0;
  s.camera.cosmic_rays_cm2_min = 0;
  s.satellite = false;
  const auto night = Night::prepare(s, nullptr, {});
  ASSERT_TRUE(night.ok());
  const rig::Sensor& sensor = s.camera.sensor;
  for (const int light : {0, 4}) {
    const Image<std::uint16_t> frame = take_light(*night, light);
    const LightPlan& plan = night->lights()[static_cast<std::size_t>(light)];
    const LightTruth truth = night->light_truth(light);
    const double half = std::hypot(sensor.width / 2.0, sensor.height / 2.0);
    double sum = 0, sum2 = 0;
    const double n = sensor.width * static_cast<double>(sensor.height);
    for (int y = 0; y < sensor.height; ++y)
      for (int x = 0; x < sensor.width; ++x) {
        const double p = ((x - (sensor.width - 1) / 2.0) * std::cos(plan.gradient_rad) +
                          (y - (sensor.height - 1) / 2.0) * std::sin(plan.gradient_rad)) /
                         half;
        const double sky = truth.sky_e[0] * (1 + plan.gradient * p * (1 + 0.3 * p));
        const double e = sky * night->camera().response[0].plane()(x, y) +
                         s.exposures.light_s * night->camera().dark_e_s.plane()(x, y);
        const double variance =
            e + sensor.read_noise_e * sensor.read_noise_e + sensor.gain_e_adu * sensor.gain_e_adu / 12;
        const double measured =
            (frame.plane()(x, y) - sensor.offset_adu - night->camera().column_adu[static_cast<std::size_t>(x)]) *
            sensor.gain_e_adu;
        const double pull = (measured - e) / std::sqrt(variance);
        sum += pull;
        sum2 += pull * pull;
      }
    EXPECT_NEAR(sum / n, 0, 5 / std::sqrt(n));
    EXPECT_NEAR(sum2 / n, 1, 5 * std::sqrt(2 / n));
    // The noise told in the truth is that of the middle.
    EXPECT_NEAR(truth.noise_e[0], std::sqrt(truth.sky_e[0] + truth.dark_e + 1.7 * 1.7 + 0.78 * 0.78 / 12), 1e-9);
  }
}

// The full well cuts, and so does the top of the converter.
TEST(PhotonTransfer, Saturation) {
  Scenario s = small_scenario(64, 64);
  s.exposures.flat_level = 0.95;
  s.camera.vignetting = 0;
  s.camera.sensor.full_well_e = 20000;
  auto night = Night::prepare(s, nullptr, {});
  ASSERT_TRUE(night.ok());
  const double top = 20000 / 0.78 + 500;
  for (const int bits : {16, 12}) {
    s.camera.sensor.bits = bits;
    s.camera.sensor.offset_adu = 100;
    s.camera.dust_shadows = 0;
    s.exposures.light_s = 3000;
    s.site.sky_mag_arcsec2 = 15;  // overwhelms any pixel
    night = Night::prepare(s, nullptr, {});
    ASSERT_TRUE(night.ok());
    const Image<std::uint16_t> frame = take_light(*night, 0);
    const double expected = bits == 16 ? top - 400 : 4095;
    int at_top = 0;
    for (int y = 0; y < 64; ++y)
      for (int x = 0; x < 64; ++x) at_top += std::fabs(frame.plane()(x, y) - expected) < (bits == 16 ? 20 : 0.5);
    EXPECT_GT(at_top, 64 * 64 * 95 / 100);
  }
}

}  // namespace
}  // namespace ng::simulate
