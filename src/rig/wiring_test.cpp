#include "rig/wiring.h"

#include <gtest/gtest.h>

namespace ng::rig {
namespace {

// ASTM B258, evaluated by an independent program; the standard rounds to 0.001 mm. Resistance: 100 % IACS copper.
TEST(Wiring, AmericanGauge) {
  const double expected[][3] = {{12, 2.052525388, 5.21081},  {14, 1.627726634, 8.28551},  {16, 1.290845906, 13.17448},
                                {18, 1.023687343, 20.94824}, {20, 0.811820970, 33.30900}, {22, 0.643803298, 52.96338}};
  for (const auto& [gauge, mm, ohm] : expected) {
    EXPECT_NEAR(awg_diameter_mm(static_cast<int>(gauge)), mm, 1e-8);
    EXPECT_NEAR(awg_ohm_per_km(static_cast<int>(gauge)) / ohm, 1, 1e-5);
  }
}

// IEC 60228 table 3, class 5; 2 L I R.
TEST(Wiring, VoltageDropOfStrandedCopper) {
  EXPECT_NEAR(voltage_drop_v(5, *stranded_ohm_per_km(1.5), 5), 0.665, 1e-12);
  EXPECT_NEAR(voltage_drop_v(5, *stranded_ohm_per_km(2.5), 5), 0.399, 1e-12);
  const double table[][2] = {{0.5, 39.0}, {0.75, 26.0}, {1, 19.5}, {1.5, 13.3}, {2.5, 7.98}, {4, 4.95}, {6, 3.30}};
  for (const auto& [area, ohm] : table) EXPECT_EQ(*stranded_ohm_per_km(area), ohm);
  EXPECT_FALSE(stranded_ohm_per_km(2).ok());
}

// IEC 60228 annex: temperature coefficient 0.00393 per kelvin.
TEST(Wiring, CopperInTheCold) {
  EXPECT_NEAR(copper_factor(-10), 0.8821, 1e-9);
  EXPECT_NEAR(copper_factor(40), 1.0786, 1e-9);
}

// Energy: 100 Ah x 12.8 V, 80 % usable, 75.4 W; Peukert's law at 100 Ah / 20 h and 10 A.
TEST(Wiring, Runtime) {
  const Battery battery{Chemistry::kLithiumIronPhosphate, 100, 12.8, 0.8};
  EXPECT_NEAR(runtime_h(battery, 20, 75.4), 13.580901856763925, 1e-9);
  EXPECT_NEAR(peukert_h(100, 20, 10, 1.2), 8.705505632961241, 1e-9);
  EXPECT_NEAR(peukert_h(100, 20, 10, 1.05), 9.659363289248455, 1e-9);
  EXPECT_LT(runtime_h(battery, -10, 75.4), 0.8 * runtime_h(battery, 20, 75.4));
  // Lead gives less the faster it is emptied, and never more than its capacity.
  const Battery lead{Chemistry::kLeadAcid, 100, 12, 0.5};
  EXPECT_NEAR(runtime_h(lead, 20, 120), 5 * 8.705505632961241 / 10, 1e-9);
  EXPECT_NEAR(runtime_h(lead, 20, 12), 50, 1e-9);
}

// Blade fuses of ISO 8820-3, 1.25 times the peak (common practice, no source).
TEST(Wiring, Fuse) {
  EXPECT_EQ(*fuse_a(3.9), 5);
  EXPECT_EQ(*fuse_a(6.0), 7.5);
  EXPECT_FALSE(fuse_a(26).ok());
}

}  // namespace
}  // namespace ng::rig
