#include "rig/signal.h"

#include <cmath>

#include "base/angle.h"

namespace ng::rig {
namespace {

double magnitude_zero_rate(const Band& b) {
  return b.photons_zero * b.width_angstrom * b.area_cm2 * b.throughput;
}

double dimmed(double magnitude) {
  return std::pow(10.0, -0.4 * magnitude);
}

}  // namespace

double star_rate_e_s(const Band& band, double magnitude, double extinction_mag_airmass, double airmass) {
  return magnitude_zero_rate(band) * dimmed(magnitude + extinction_mag_airmass * airmass);
}

double surface_rate_e_s(const Band& band, double scale_arcsec_px, double mag_arcsec2, double extinction_mag_airmass,
                        double airmass) {
  return sky_rate_e_s(band, scale_arcsec_px, mag_arcsec2 + extinction_mag_airmass * airmass);
}

double sky_rate_e_s(const Band& band, double scale_arcsec_px, double mag_arcsec2) {
  return magnitude_zero_rate(band) * scale_arcsec_px * scale_arcsec_px * dimmed(mag_arcsec2);
}

double line_rate_e_s(double area_cm2, double throughput_at_line, double scale_arcsec_px, double rayleighs) {
  const double pixel_sr = std::pow(scale_arcsec_px / kArcsecPerRadian, 2);
  return rayleighs * 1e6 / (4 * kPi) * area_cm2 * throughput_at_line * pixel_sr;
}

double PixelExposure::variance_e2() const {
  return mean_e() + read_noise_e * read_noise_e + gain_e_adu * gain_e_adu / 12;
}

double extended_snr(const PixelExposure& exposure, double pixels, double subs) {
  return exposure.source_e_s * exposure.seconds * std::sqrt(pixels * subs / exposure.variance_e2());
}

double star_snr(const PixelExposure& exposure, double sigma_px, double subs) {
  PixelExposure background = exposure;
  background.source_e_s = 0;
  const double flux = exposure.source_e_s * exposure.seconds;
  const double area = 4 * kPi * sigma_px * sigma_px;
  return flux * std::sqrt(subs / (flux + area * background.variance_e2()));
}

double shortest_sub_s(double read_noise_e, double sky_and_dark_e_s, double share) {
  return read_noise_e * read_noise_e / (sky_and_dark_e_s * ((1 + share) * (1 + share) - 1));
}

}  // namespace ng::rig
