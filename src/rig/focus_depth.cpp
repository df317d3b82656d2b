#include "rig/focus_depth.h"

#include <cmath>

#include "base/angle.h"

namespace ng::rig {
namespace {

double wavelength_over_aperture_arcsec(const Optics& optics, double wavelength_nm) {
  return wavelength_nm * 1e-6 / optics.aperture_mm * kArcsecPerRadian;
}

}  // namespace

double airy_radius_arcsec(const Optics& optics, double wavelength_nm) {
  return 1.2196698912665045 * wavelength_over_aperture_arcsec(optics, wavelength_nm);
}

double diffraction_fwhm_arcsec(const Optics& optics, double wavelength_nm) {
  return 1.0289939699621886 * wavelength_over_aperture_arcsec(optics, wavelength_nm);
}

double airy_focus_zone_um(double focal_ratio, double wavelength_nm) {
  return 4.88 * wavelength_nm * 1e-3 * focal_ratio * focal_ratio;
}

double quarter_wave_defocus_um(double focal_ratio, double wavelength_nm) {
  return 2 * wavelength_nm * 1e-3 * focal_ratio * focal_ratio;
}

double seeing_focus_zone_um(const Optics& optics, double fwhm_arcsec, double share) {
  const double fwhm_um = fwhm_arcsec / kArcsecPerRadian * optics.effective_focal_length_mm() * 1e3;
  return 2 * optics.focal_ratio() * fwhm_um * std::sqrt((1 + share) * (1 + share) - 1);
}

double defocus_disc_um(double defocus_um, double focal_ratio) {
  return defocus_um / focal_ratio;
}

double tube_growth_um(double length_mm, double warmer_by_c) {
  constexpr double kAluminiumPerK = 23.1e-6;
  return length_mm * 1e3 * kAluminiumPerK * warmer_by_c;
}

Sampling sampling_of(double scale_arcsec_px, double fwhm_arcsec) {
  const double pixels = fwhm_arcsec / scale_arcsec_px;
  if (pixels < 2) return Sampling::kCoarse;
  return pixels <= 3.5 ? Sampling::kFit : Sampling::kFine;
}

double seeing_fwhm_arcsec(double r0_m, double wavelength_nm) {
  return 0.98 * wavelength_nm * 1e-9 / r0_m * kArcsecPerRadian;
}

double seeing_growth(double airmass) {
  return std::pow(airmass, 0.6);
}

}  // namespace ng::rig
