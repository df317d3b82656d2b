#include "app/shelf_cost.h"

#include <fmt/format.h>

#include <cmath>

#include "rig/signal.h"

namespace ng::app {

double noise_factor(const rig::Sensor& sensor, double seconds, double celsius, int darks, const SubNoise& light) {
  const rig::PixelExposure dark{0, 0, sensor.dark_rate_e_s(celsius), sensor.read_noise_e, sensor.gain_e_adu, seconds};
  return std::sqrt(1 + dark.variance_e2() / darks / (light.variance_e2 / std::max(1.0, light.subs)));
}

std::string cost_of_count(const rig::Sensor& sensor, double seconds, double celsius, int have, int wanted,
                          const SubNoise& light) {
  const auto percent = [&](int darks) { return 100 * (noise_factor(sensor, seconds, celsius, darks, light) - 1); };
  const std::string full = fmt::format("{} darks add {:.1f} % to the noise of {:.0f} lights that are not dithered",
                                       wanted, percent(wanted), light.subs);
  if (have > 0) return fmt::format("{}; {} alone: {:.1f} %", full, have, percent(have));
  return fmt::format(
      "without darks {:.2g} e- of dark current stay in the usual pixel and {:.2g} in one ten times as hot, "
      "where a light has {:.2g} e- of noise; {}",
      sensor.dark_rate_e_s(celsius) * seconds, 10 * sensor.dark_rate_e_s(celsius) * seconds,
      std::sqrt(light.variance_e2), full);
}

std::string cost_of_others(const rig::Sensor& sensor, double seconds, double celsius, double dark_seconds,
                           double dark_celsius, const SubNoise& light) {
  const double off = sensor.dark_rate_e_s(celsius) * seconds - sensor.dark_rate_e_s(dark_celsius) * dark_seconds;
  return fmt::format(
      "the darks of {:g} s at {:.1f} C in their place leave {:+.2g} e- in the usual pixel and {:+.2g} in one ten times "
      "as "
      "hot, where a light has {:.2g} e- of noise",
      dark_seconds, dark_celsius, off, 10 * off, std::sqrt(light.variance_e2));
}

}  // namespace ng::app
