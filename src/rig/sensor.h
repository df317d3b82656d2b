// rig/sensor.h - the camera's chip in numbers.
#pragma once

#include <optional>
#include <string>

#include "base/result.h"
#include "frame/bayer.h"
#include "rig/curve.h"

namespace ng::rig {

struct Sensor {
  std::string name;
  int width = 0;  // pixels
  int height = 0;
  double pixel_um = 0;
  double gain_e_adu = 0;    // electrons per ADU, as stored
  double read_noise_e = 0;  // one standard deviation
  double full_well_e = 0;
  double offset_adu = 0;  // level that the camera adds, so that noise around black stays positive
  int bits = 16;          // of the converter: values run from 0 to 2^bits - 1
  double dark_e_s = 0;    // median pixel, at dark_reference_c
  double dark_reference_c = 0;
  Curve quantum_efficiency;
  std::optional<BayerPattern> bayer;  // none: a mono sensor

  [[nodiscard]] Result<void> validate() const;

  [[nodiscard]] double largest_adu() const { return static_cast<double>((1 << bits) - 1); }
  // Electrons at which a pixel saturates: full well or the top of the converter, whichever comes first.
  [[nodiscard]] double saturation_e() const;
  // Dark current of the median pixel at a temperature.
  [[nodiscard]] double dark_rate_e_s(double temperature_c) const;
};

// Dark current relative to that at a reference temperature, by the mid-gap law of silicon: T^1.5 exp(-Eg / 2kT),
// Eg = 1.1557 - 7.021e-4 T^2 / (1108 + T) eV, T in kelvin (Janesick, Scientific Charge-Coupled Devices, 2001; Widenhorn
// et al. 2002, Proc. SPIE 4669, 193). It doubles every 5.2 K at -40 C and every 8.1 K at +20 C; real sensors: 5 to 7 K.
[[nodiscard]] double dark_current_ratio(double temperature_c, double reference_c);

}  // namespace ng::rig
