#include "rig/sensor.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace ng::rig {

Result<void> Sensor::validate() const {
  const auto wrong = [](const char* field, double value, const char* rule) {
    return Error(Code::kInvalidInput, fmt::format("sensor: {} is {}: it must {}", field, value, rule));
  };
  if (width < 32 || width > 20000) return wrong("width", width, "lie between 32 and 20000 pixels");
  if (height < 32 || height > 20000) return wrong("height", height, "lie between 32 and 20000 pixels");
  if (!(pixel_um > 0 && pixel_um < 100)) return wrong("pixel_um", pixel_um, "lie between 0 and 100");
  if (!(gain_e_adu > 0)) return wrong("gain_e_adu", gain_e_adu, "be positive");
  if (!(read_noise_e >= 0)) return wrong("read_noise_e", read_noise_e, "not be negative");
  if (!(full_well_e > 0)) return wrong("full_well_e", full_well_e, "be positive");
  if (bits < 8 || bits > 16) return wrong("bits", bits, "lie between 8 and 16");
  if (!(offset_adu >= 0 && offset_adu < largest_adu()))
    return wrong("offset_adu", offset_adu, "lie between 0 and the top of the converter");
  if (!(dark_e_s >= 0)) return wrong("dark_e_s", dark_e_s, "not be negative");
  if (!(dark_reference_c > -100 && dark_reference_c < 60))
    return wrong("dark_reference_c", dark_reference_c, "lie between -100 and 60 C");
  return quantum_efficiency.validate("quantum_efficiency");
}

double Sensor::saturation_e() const {
  return std::min(full_well_e, (largest_adu() - offset_adu) * gain_e_adu);
}

double Sensor::dark_rate_e_s(double temperature_c) const {
  return dark_e_s * dark_current_ratio(temperature_c, dark_reference_c);
}

double dark_current_ratio(double temperature_c, double reference_c) {
  constexpr double kBoltzmannEvPerK = 8.617333262e-5;  // CODATA 2018
  const auto log_rate = [](double celsius) {
    const double t = celsius + 273.15;
    const double gap_ev = 1.1557 - 7.021e-4 * t * t / (1108 + t);
    return 1.5 * std::log(t) - gap_ev / (2 * kBoltzmannEvPerK * t);
  };
  return std::exp(log_rate(temperature_c) - log_rate(reference_c));
}

}  // namespace ng::rig
