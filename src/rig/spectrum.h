// rig/spectrum.h - the light of a star through a filter onto a sensor.
//
// A star's spectrum is taken as that of a black body whose temperature follows from B-V by Ballesteros 2012, EPL 97,
// 34008, eq. (14): T = 4600 K (1/(0.92 c + 1.7) + 1/(0.92 c + 0.62)); its photon rate at 550 nm is that of its V
// magnitude. Real spectra have lines and edges: broad bands agree to some 5-10 % (to 20 % in blue for late types).
#pragma once

#include "rig/filter.h"
#include "rig/optics.h"
#include "rig/sensor.h"

namespace ng::rig {

[[nodiscard]] double temperature_from_colour_k(double b_minus_v);

// Photons per second, cm^2 and Angstrom of a star of V = 0, above the air.
[[nodiscard]] double photons_per_angstrom(double b_minus_v, double wavelength_nm);

// The throughput of optics, filter and sensor together, integrated over a star's spectrum.
struct BandResponse {
  double electrons_v0 = 0;    // electrons per second of a star of V = 0 above the air
  double wavelength_nm = 0;   // photon-weighted mean, for the extinction
  double width_angstrom = 0;  // equivalent width of filter alone
};
[[nodiscard]] BandResponse band_response(const Optics& optics, const Filter& filter, const Curve& quantum_efficiency,
                                         double b_minus_v);

}  // namespace ng::rig
