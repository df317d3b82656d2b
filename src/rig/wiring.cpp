#include "rig/wiring.h"

#include <fmt/format.h>

#include <array>
#include <cmath>

#include "base/angle.h"

namespace ng::rig {

double awg_diameter_mm(int gauge) {
  return 0.127 * std::pow(92.0, (36.0 - gauge) / 39.0);
}

double awg_area_mm2(int gauge) {
  return kPi / 4 * awg_diameter_mm(gauge) * awg_diameter_mm(gauge);
}

double awg_ohm_per_km(int gauge) {
  return 1.724137931e-8 / (awg_area_mm2(gauge) * 1e-6) * 1e3;
}

Result<double> stranded_ohm_per_km(double area_mm2) {
  constexpr std::array<std::array<double, 2>, 7> kTable{
      {{0.5, 39.0}, {0.75, 26.0}, {1, 19.5}, {1.5, 13.3}, {2.5, 7.98}, {4, 4.95}, {6, 3.30}}};
  for (const auto& [area, ohm] : kTable)
    if (std::fabs(area - area_mm2) < 1e-6) return ohm;
  return Error(Code::kInvalidInput,
               fmt::format("{} mm2 is no standard cross section: take 0.5, 0.75, 1, 1.5, 2.5, 4 or 6", area_mm2));
}

double copper_factor(double temperature_c) {
  return 1 + 0.00393 * (temperature_c - 20);
}

double voltage_drop_v(double length_m, double ohm_per_km, double current_a) {
  return 2 * length_m * ohm_per_km * 1e-3 * current_a;
}

double cold_share(Chemistry chemistry, double temperature_c) {
  const bool lithium = chemistry == Chemistry::kLithiumIronPhosphate;
  const double freezing = lithium ? 0.85 : 0.80, frost = lithium ? 0.65 : 0.60;
  if (temperature_c >= 20) return 1;
  if (temperature_c >= 0) return std::lerp(freezing, 1.0, temperature_c / 20);
  return std::lerp(frost, freezing, std::fmax(temperature_c, -20) / 20 + 1);
}

double usable_wh(const Battery& b, double temperature_c) {
  return b.capacity_ah * b.volts * b.usable_share * cold_share(b.chemistry, temperature_c);
}

double peukert_h(double capacity_ah, double rated_h, double current_a, double exponent) {
  return rated_h * std::pow(capacity_ah / (current_a * rated_h), exponent);
}

double runtime_h(const Battery& b, double temperature_c, double load_w) {
  const double plain = usable_wh(b, temperature_c) / load_w;
  if (b.chemistry == Chemistry::kLithiumIronPhosphate) return plain;
  constexpr double kRatedH = 20, kExponent = 1.2;
  const double current_a = load_w / b.volts;
  const double ratio = peukert_h(b.capacity_ah, kRatedH, current_a, kExponent) / (b.capacity_ah / current_a);
  return plain * std::fmin(1, ratio);
}

Result<double> fuse_a(double peak_current_a) {
  constexpr std::array<double, 11> kBlade{1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30};
  const double needed = 1.25 * peak_current_a;
  for (const double fuse : kBlade)
    if (fuse >= needed) return fuse;
  return Error(Code::kInvalidInput,
               fmt::format("a peak of {:.1f} A needs a fuse above 30 A: split it over more supplies", peak_current_a));
}

}  // namespace ng::rig
