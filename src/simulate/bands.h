// simulate/bands.h - electrons per second of stars, nebula and sky in each colour channel of a frame.
//
// A channel is a filter of the wheel over a mono sensor, or one dye of a mosaic sensor behind its window. All rates are
// those at airmass 1 in clear air; band_transparency() takes the rest of the air away. Rates of stars come from
// rig/spectrum.h, of lines from rig/signal.h.
#pragma once

#include <array>
#include <vector>

#include "simulate/nebula.h"
#include "simulate/scenario.h"

namespace ng::simulate {

struct BandChannel {
  std::string name;
  double extinction_mag_airmass = 0;
  double sky_e_s = 0;             // per pixel, dark sky at the zenith
  double h_alpha_e_s = 0;         // per pixel and rayleigh of H-alpha, with the lines that follow it
  double oxygen_e_s = 0;          // per pixel and rayleigh of [O III] 500.7 nm, with 495.9 nm
  std::array<double, 27> v0_e_s;  // of a star of V = 0, for B-V = -0.4, -0.3, ... 2.2

  // Electrons per second of a star, straight lines between the colours above (their error is below 0.1 %).
  [[nodiscard]] double star_e_s(double v_mag, double b_minus_v) const;
};

// By filter of the wheel: one channel for a mono sensor, red, green, blue for a mosaic.
[[nodiscard]] std::vector<std::vector<BandChannel>> make_bands(const Scenario& scenario);

// Share of the light that arrives, relative to airmass 1 in clear air.
[[nodiscard]] double band_transparency(const BandChannel& channel, double airmass, double clearness);

}  // namespace ng::simulate
