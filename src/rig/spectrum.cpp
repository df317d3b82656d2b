#include "rig/spectrum.h"

#include <cmath>

#include "rig/signal.h"

namespace ng::rig {
namespace {

// Shape of a black body in photons per unit wavelength (Planck): lambda^-4 / (exp(hc / lambda k T) - 1).
double planck_photons(double temperature_k, double wavelength_nm) {
  constexpr double kHcOverKNmK = 1.438776877e7;  // second radiation constant, CODATA 2018, in nm K
  return std::pow(wavelength_nm, -4) / std::expm1(kHcOverKNmK / (wavelength_nm * temperature_k));
}

}  // namespace

double temperature_from_colour_k(double b_minus_v) {
  return 4600 * (1 / (0.92 * b_minus_v + 1.7) + 1 / (0.92 * b_minus_v + 0.62));
}

double photons_per_angstrom(double b_minus_v, double wavelength_nm) {
  constexpr double kVisualNm = 550;
  const double t = temperature_from_colour_k(b_minus_v);
  return kPhotonsVisualZero * planck_photons(t, wavelength_nm) / planck_photons(t, kVisualNm);
}

BandResponse band_response(const Optics& optics, const Filter& filter, const Curve& quantum_efficiency,
                           double b_minus_v) {
  const double reach = (filter.width_nm + filter.flank_nm) / 2;
  constexpr int kSteps = 200;  // midpoint rule; halving the step changes nothing in the fifth digit
  const double step_nm = 2 * reach / kSteps;
  double electrons = 0, moment = 0;
  for (int i = 0; i < kSteps; ++i) {
    const double wavelength = filter.centre_nm - reach + (i + 0.5) * step_nm;
    const double e =
        photons_per_angstrom(b_minus_v, wavelength) * filter.at(wavelength) * quantum_efficiency.at(wavelength);
    electrons += e;
    moment += e * wavelength;
  }
  const double mean_nm = electrons > 0 ? moment / electrons : filter.centre_nm;
  return {electrons * step_nm * 10 * optics.area_cm2() * optics.throughput, mean_nm, filter.equivalent_width_nm() * 10};
}

}  // namespace ng::rig
