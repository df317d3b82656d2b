// The relations of EMVA 1288 against the values that the published reference implementation of the standard gives (its
// documentation of data sets; release 4.0 linear) and against values computed from the standard's formulas; pairs with
// a lamp that changes against what was drawn.
#include "diagnose/photon_transfer.h"

#include <gtest/gtest.h>

#include <cmath>

#include "diagnose/dark_current.h"
#include "diagnose/nonuniformity.h"
#include "diagnose/pair_noise.h"
#include "math/random.h"
#include "rig/sensor.h"

namespace ng::diagnose {
namespace {

constexpr double kPublishedK = 0.280769280926;  // ADU per electron

// sigma_y.dark 3.07341849276 ADU gives 10.8980275235 electrons, rounding taken off.
TEST(Emva, DarkNoise) {
  const DarkNoise dark{3.07341849276 * 3.07341849276, 0, 1};
  const ReadNoise r = read_noise(dark, {1 / kPublishedK, 0});
  EXPECT_NEAR(r.electrons.value, 10.8980275235, 1e-9);
  EXPECT_FALSE(r.upper_limit);
}

// The published threshold, 25.3600660517 photons at a quantum efficiency of 45.1356082834 %, and the published range
// 1220.69871336 with the saturation that belongs to the published largest SNR of 118.205880802.
TEST(Emva, ThresholdAndRange) {
  const double dark_noise_e = 3.07341849276 / kPublishedK;
  EXPECT_NEAR(threshold_e(dark_noise_e), 25.3600660517 * 0.451356082834, 1e-9);
  EXPECT_NEAR(dynamic_range(118.205880802 * 118.205880802, dark_noise_e), 1220.69871336, 1e-6);
}

// PRNU and DSNU: 120 and 4 ADU^2 at 2000 and 100 ADU give 0.5668594533825794 % and, with K 0.25, 8.0 electrons.
TEST(Emva, Nonuniformity) {
  EXPECT_NEAR(100 * prnu_share(120, 4, 2000, 100), 0.5668594533825794, 1e-9);
  EXPECT_NEAR(dsnu_e(4, 1 / 0.25), 8.0, 1e-12);
}

// Points exactly on variance = K^2 sigma_d^2 + 1/12 + K mu with K 0.25 and sigma_d 3.5 electrons: the slope comes back,
// and so does the noise. The third power of ten is beyond 70 % of saturation.
TEST(Emva, PhotonTransfer) {
  constexpr double kK = 0.25, kSigma = 3.5;
  const double dark = kK * kK * kSigma * kSigma + 1.0 / 12;
  std::vector<TransferPoint> points;
  for (const double electrons : {10.0, 100.0, 1000.0, 10000.0, 20000.0, 40000.0}) {
    const double mu = kK * electrons, variance = dark + kK * mu;
    points.push_back({electrons, mu, mu, variance, mu, variance, 1, 100000});
  }
  points.push_back({60000, 12000, 12000, 2, 12000, 2, 1, 100000});  // full pixels stand still
  const auto fit = fit_transfer(points, {dark, 0, 1});
  ASSERT_TRUE(fit.has_value());
  EXPECT_NEAR(fit->gain_e_adu.value, 4, 1e-9);
  EXPECT_TRUE(fit->saturated);
  EXPECT_NEAR(*fit->ceiling_adu, 12000, 1e-9);
  EXPECT_EQ(fit->used, (std::vector<bool>{true, true, true, true, true, false, false}));
  EXPECT_NEAR(read_noise({dark, 0, 1}, fit->gain_e_adu).electrons.value, kSigma, 1e-9);
}

TEST(Emva, RoundingHidesTheReadNoise) {
  const ReadNoise r = read_noise({0.2, 0, 1}, {2, 0});
  EXPECT_TRUE(r.upper_limit);
  EXPECT_NEAR(r.electrons.value, 0.8, 1e-12);
  // A camera that stores steps of 16 rounds 16 times as coarsely.
  EXPECT_TRUE(read_noise({0.2 * 256, 0, 16}, {2, 0}).upper_limit);
}

// A level that bends by 2 % of itself at the top: y = x (1 - 0.02 x) over 0.05 to 0.9.
TEST(Emva, Linearity) {
  std::vector<TransferPoint> points;
  for (int i = 1; i <= 18; ++i) {
    const double x = 0.05 * i, y = 1000 * x * (1 - 0.02 * x);
    points.push_back({x, y, y, y, y, y, 1, 1000});
  }
  const auto bent = linearity(points, 1000);
  ASSERT_TRUE(bent.has_value());
  EXPECT_GT(bent->worst_percent, 0.1);
  EXPECT_LT(bent->worst_percent, 2);
  for (TransferPoint& p : points) p.level_adu = 1000 * p.exposure_s + 3;
  EXPECT_NEAR(linearity(points, 1000)->worst_percent, 0, 1e-9);
}

// Frames of a lit, vignetted scene: the second 3 % brighter; in the second case every row 20 % up or down.
struct Scene {
  Image<float> a{400, 300}, b{400, 300};
};
Scene scene(double lamp, double flicker, double level, double variance_share) {
  math::Random random(11, 5);
  Scene s;
  for (int y = 0; y < 300; ++y) {
    const double ra = 1 + flicker * std::sin(0.3 * y), rb = lamp * (1 + flicker * std::sin(0.3 * y + 2));
    for (int x = 0; x < 400; ++x) {
      const double shape = 1 - 0.3 * std::pow(std::hypot(x - 200.0, y - 150.0) / 250, 2);
      const double ea = level * shape * ra, eb = level * shape * rb;
      s.a.plane()(x, y) = static_cast<float>(500 + ea + std::sqrt(variance_share * ea) * random.normal());
      s.b.plane()(x, y) = static_cast<float>(500 + eb + std::sqrt(variance_share * eb) * random.normal());
    }
  }
  return s;
}

// Variance over signal is the share drawn; its error is sqrt(2/n) = 0.4 %, four of them. By plain EMVA the lamp alone
// would add 0.03^2 x (spatial variance 0.0064 x 8000^2) = 370 to a variance of 4000.
TEST(PairNoise, ALampThatChanges) {
  const Scene s = scene(1.03, 0, 8000, 0.5);
  const auto noise = pair_noise(std::as_const(s.a).plane(), std::as_const(s.b).plane(), {true, false, {500}}, {});
  ASSERT_TRUE(noise.ok());
  const CellNoise& n = noise->front();
  EXPECT_NEAR(n.variance_adu2 / n.signal_adu / 0.5, 1, 4 * std::sqrt(2.0 / 120000));
  EXPECT_NEAR(n.ratio, 1 / 1.03, 0.0005);
  EXPECT_LT(n.flicker, 0.001);
}

TEST(PairNoise, ALampThatFlickers) {
  const Scene s = scene(0.98, 0.2, 8000, 0.5);
  const auto noise = pair_noise(std::as_const(s.a).plane(), std::as_const(s.b).plane(), {true, false, {500}}, {});
  ASSERT_TRUE(noise.ok());
  const CellNoise& n = noise->front();
  EXPECT_NEAR(n.variance_adu2 / n.signal_adu / 0.5, 1, 4 * std::sqrt(2.0 / 120000));
  EXPECT_GT(n.flicker, 0.1);
}

// Cosmic rays in one of the frames do not count as noise.
TEST(PairNoise, RaysAreLeftOut) {
  Scene s = scene(1, 0, 2000, 0.5);
  for (int k = 0; k < 40; ++k) s.a.plane()(7 * k + 5, 5 * k + 3) += 3000;
  const auto noise = pair_noise(std::as_const(s.a).plane(), std::as_const(s.b).plane(), {true, false, {500}}, {});
  ASSERT_TRUE(noise.ok());
  EXPECT_NEAR(noise->front().variance_adu2 / noise->front().signal_adu / 0.5, 1, 4 * std::sqrt(2.0 / 120000));
  EXPECT_EQ(noise->front().pixels, 120000 - 40);
}

TEST(PairNoise, StepOfTheValues) {
  Image<float> frame(64, 64);
  for (int y = 0; y < 64; ++y)
    for (int x = 0; x < 64; ++x) frame.plane()(x, y) = static_cast<float>(1600 + 16 * ((x * 7 + y * 3) % 11));
  EXPECT_EQ(value_step(std::as_const(frame).plane()), 16);
  frame.plane()(0, 0) += 1;
  EXPECT_EQ(value_step(std::as_const(frame).plane()), 1);
}

// Rates drawn from the mid-gap law of silicon from -20 to +20 C: the doubling in the middle is the published one, 7.092
// C at 0 C, and the law goes through the ends (ratio +20 to -10 C: 17.119). The gap of the published form changes a
// little with temperature, the fitted one does not: 1 %.
TEST(DarkCurrent, TemperatureLaw) {
  EXPECT_NEAR(rig::dark_current_ratio(20, -10), 17.119, 1e-3);
  std::vector<RateAtTemperature> rates;
  for (const double c : {-20.0, -10.0, 10.0, 20.0}) {
    const double rate = 0.01 * rig::dark_current_ratio(c, 0);
    rates.push_back({c, {rate, 0.01 * rate}});
  }
  const auto law = temperature_law(rates);
  ASSERT_TRUE(law.has_value());
  EXPECT_NEAR(law->doubling_c.value, 7.092, 0.01 * 7.092);
  EXPECT_NEAR(law->silicon_doubling_c, 7.092, 1e-3);
  EXPECT_NEAR(law->e_s_there.value / 0.01, 1, 0.01);
  EXPECT_LT(law->reduced_chi2, 0.1);
  const auto rate = [&](double c) { return law_rate(law->energy_ev.value, 0, law->e_s_there.value, c); };
  EXPECT_NEAR(rate(20) / rate(-10) / 17.119, 1, 0.01);
  EXPECT_FALSE(temperature_law({rates[0]}).has_value());
}

// Usual pixels at 2 ADU, one in 500 hot, a corner that glows: the usual level comes back within its error.
TEST(DarkCurrent, HotPixelsAndGlowDoNotMoveIt) {
  Image<float> dark(640, 480), bias(640, 480, 1, 500.0f);
  math::Random random(3, 1);
  for (int y = 0; y < 480; ++y)
    for (int x = 0; x < 640; ++x) {
      const double glow = 60 * std::exp(-std::hypot(639 - x, 479 - y) / 40);
      const double hot = random.uniform() < 0.002 ? 300 * random.uniform() : 0;
      dark.plane()(x, y) = static_cast<float>(502 + glow + hot + 1.5 * random.normal());
    }
  const auto level = dark_level(std::as_const(dark).plane(), std::as_const(bias).plane(), 300, {});
  ASSERT_TRUE(level.ok());
  EXPECT_NEAR(level->usual.value, 2, 4 * level->usual.error);
  EXPECT_LT(level->usual.error, 0.01);
  EXPECT_GT(level->glow, 20);
  EXPECT_GT(level->glow_x, 600);
  EXPECT_GT(level->glow_y, 440);
  const auto rate = dark_rate({*level}, 0.001);
  ASSERT_TRUE(rate.has_value());
  EXPECT_NEAR(rate->adu_s.value, level->usual.value / 300, 1e-9);
}

}  // namespace
}  // namespace ng::diagnose
