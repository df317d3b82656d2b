// rig/wiring.h - what a cable takes away, what a battery gives.
#pragma once

#include <vector>

#include "base/result.h"

namespace ng::rig {

// Solid wire by American wire gauge, ASTM B258: diameter 0.127 mm x 92^((36 - n) / 39).
[[nodiscard]] double awg_diameter_mm(int gauge);
[[nodiscard]] double awg_area_mm2(int gauge);
// Copper of 100 % IACS at 20 C, 1.724137931e-8 ohm m.
[[nodiscard]] double awg_ohm_per_km(int gauge);
// Fine-stranded copper (class 5) at 20 C, IEC 60228 table 3: the largest resistance that a conductor of a standard
// cross section may have. Errors: kInvalidInput, with the list, for any other section.
[[nodiscard]] Result<double> stranded_ohm_per_km(double area_mm2);
// Copper at another temperature: 1 + 0.00393 (T - 20).
[[nodiscard]] double copper_factor(double temperature_c);
// Out and back: 2 L I R.
[[nodiscard]] double voltage_drop_v(double length_m, double ohm_per_km, double current_a);

enum class Chemistry { kLithiumIronPhosphate, kLeadAcid };

struct Battery {
  Chemistry chemistry = Chemistry::kLithiumIronPhosphate;
  double capacity_ah = 0;
  double volts = 12.8;        // nominal
  double usable_share = 0.8;  // depth to which it is emptied
};
// Share of the capacity that is left in the cold: straight between 1 at 20 C, 0.85 at 0 C and 0.65 at -20 C for lithium
// iron phosphate, 1, 0.8 and 0.6 for lead (makers' typical curves, from memory; read your battery's own).
[[nodiscard]] double cold_share(Chemistry chemistry, double temperature_c);
[[nodiscard]] double usable_wh(const Battery& battery, double temperature_c);
// Energy over load; for lead the capacity shrinks with the current by Peukert's law on top: the hours of t = H (C / I
// H)^k with H = 20 h and k = 1.2, in place of C / I.
[[nodiscard]] double runtime_h(const Battery& battery, double temperature_c, double load_w);
[[nodiscard]] double peukert_h(double capacity_ah, double rated_h, double current_a, double exponent);

// The next standard fuse above 1.25 times the current at peak (common practice): blade fuses of ISO 8820-3, in amperes.
// Errors: kInvalidInput above the largest.
[[nodiscard]] Result<double> fuse_a(double peak_current_a);

}  // namespace ng::rig
