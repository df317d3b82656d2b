// rig/focus_depth.h - how sharp the optics can be, and how exactly they must be focused.
#pragma once

#include "rig/optics.h"

namespace ng::rig {

// Diffraction at a clear circular aperture (Born & Wolf, ch. 8): first dark ring at 1.21967 lambda / D from the middle,
// full width at half maximum 1.02899 lambda / D. An obstruction narrows both by a few per cent.
[[nodiscard]] double airy_radius_arcsec(const Optics& optics, double wavelength_nm);
[[nodiscard]] double diffraction_fwhm_arcsec(const Optics& optics, double wavelength_nm);

// Two lengths that are both called critical focus zone; they differ by 22 %:
// the whole stretch over which the disc of defocus stays within the Airy disc: 4.88 lambda N^2, and
[[nodiscard]] double airy_focus_zone_um(double focal_ratio, double wavelength_nm);
// the defocus of a quarter wave, to each side: 2 lambda N^2 (Conrady).
[[nodiscard]] double quarter_wave_defocus_um(double focal_ratio, double wavelength_nm);
// The same for star images widened by seeing: the stretch, both sides together, over which a geometric disc of defocus,
// added in quadrature, widens them by at most `share`: 2 N f FWHM sqrt((1 + share)^2 - 1) (derived).
[[nodiscard]] double seeing_focus_zone_um(const Optics& optics, double fwhm_arcsec, double share);
// Diameter of the disc that a defocus makes: dz / N.
[[nodiscard]] double defocus_disc_um(double defocus_um, double focal_ratio);
// Growth of a tube of aluminium, 23.1e-6 per kelvin.
[[nodiscard]] double tube_growth_um(double length_mm, double warmer_by_c);

enum class Sampling { kCoarse, kFit, kFine };
// Two pixels across the width of a star are the least (Nyquist); beyond three and a half nothing is gained.
[[nodiscard]] Sampling sampling_of(double scale_arcsec_px, double fwhm_arcsec);

// Width of star images through the whole air, r0 at 500 nm at the zenith: 0.98 lambda / r0 (Fried 1966), and how it
// grows with airmass: X^0.6 (Kolmogorov).
[[nodiscard]] double seeing_fwhm_arcsec(double r0_m, double wavelength_nm);
[[nodiscard]] double seeing_growth(double airmass);

}  // namespace ng::rig
