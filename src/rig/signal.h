// rig/signal.h - from sky to electrons: the one photon model that predicts, renders, weights and explains.
//
// Symbols: collecting area A [cm^2], throughput T (optics x filter x quantum efficiency), band width W [Angstrom],
// plate scale s [arcsec/px], photon rate of magnitude 0 N0 [photons/s/cm^2/A], extinction k [mag/airmass], airmass X.
#pragma once

namespace ng::rig {

// N0 in V: Bessell, Castelli & Plez 1998, A&A 333, 231, table A2 (f_lambda 363.1e-11 erg/s/cm^2/A at 5450 A). Other
// readings of the same table give 995.5 to 1007: 1 % is the honest uncertainty.
inline constexpr double kPhotonsVisualZero = 996.2;

// What stands before the pixel, for one band.
struct Band {
  double area_cm2 = 0;
  double width_angstrom = 0;
  double throughput = 0;  // optics x filter x mean quantum efficiency over the band
  double photons_zero = kPhotonsVisualZero;
};

// Electrons per second of a star of magnitude m: N0 W A T 10^(-0.4 (m + k X)).
[[nodiscard]] double star_rate_e_s(const Band& band, double magnitude, double extinction_mag_airmass, double airmass);
// Electrons per second and pixel of a surface brightness in mag/arcsec^2 above the air.
[[nodiscard]] double surface_rate_e_s(const Band& band, double scale_arcsec_px, double mag_arcsec2,
                                      double extinction_mag_airmass, double airmass);
// The same for the sky as seen from the ground: no extinction again.
[[nodiscard]] double sky_rate_e_s(const Band& band, double scale_arcsec_px, double mag_arcsec2);
// Electrons per second and pixel of an emission line of the given intensity above the air.
// 1 rayleigh = 1e6 / (4 pi) photons/s/cm^2/sr (Hunten, Roach & Chamberlain 1956).
[[nodiscard]] double line_rate_e_s(double area_cm2, double throughput_at_line, double scale_arcsec_px,
                                   double rayleighs);

// One pixel in one sub-exposure of t seconds.
struct PixelExposure {
  double source_e_s = 0;
  double sky_e_s = 0;
  double dark_e_s = 0;
  double read_noise_e = 0;
  double gain_e_adu = 0;  // 0: no rounding to whole ADU
  double seconds = 0;

  [[nodiscard]] double mean_e() const { return (source_e_s + sky_e_s + dark_e_s) * seconds; }
  // (S + B + D) t + R^2 + g^2 / 12; the last term is the noise of rounding (EMVA 1288).
  [[nodiscard]] double variance_e2() const;
};

// Signal-to-noise ratio of an extended source over `pixels` pixels in `subs` sub-exposures.
[[nodiscard]] double extended_snr(const PixelExposure& exposure, double pixels, double subs);
// The same for a star with optimal weights, limited by the background: noise-equivalent area 4 pi sigma^2 of a Gaussian
// (King 1983, PASP 95, 163) plus the star's own photon noise. `exposure.source_e_s` is the whole star's rate here.
[[nodiscard]] double star_snr(const PixelExposure& exposure, double sigma_px, double subs);

// Shortest useful sub-exposure in seconds: read noise raises the noise of sky and dark by the share e at most:
// t = R^2 / ((B + D) ((1 + e)^2 - 1)). Infinite when there is neither sky nor dark.
[[nodiscard]] double shortest_sub_s(double read_noise_e, double sky_and_dark_e_s, double share);

}  // namespace ng::rig
