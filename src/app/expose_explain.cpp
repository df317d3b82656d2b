#include "app/expose_explain.h"

#include <fmt/format.h>

#include <cmath>

namespace ng::app {

std::vector<ExposeStep> explain_exposure(const plan::ExposureAdvice& a, const rig::Rig& rig,
                                         const plan::ExposureWish& w, const plan::FaintSource& source,
                                         const plan::Conditions& conditions) {
  const rig::Sensor& s = rig.sensor;
  const double scale = a.scale_arcsec_px;
  std::vector<ExposeStep> steps;
  const auto step = [&steps](const char* what, const char* formula, std::string numbers) {
    steps.push_back({what, formula, std::move(numbers)});
  };
  step("plate scale", "s = 206.265 p / f",
       fmt::format("206.265 x {:.4g} um / {:.4g} mm = {:.3f} arcsec/px", s.pixel_um,
                   rig.optics.effective_focal_length_mm(), scale));
  step("star of V = 0", "F0 = integral of N0(lambda) A T(lambda) QE(lambda), above the air",
       fmt::format("A = {:.1f} cm2 through {}: {:.4g} e/s", rig.optics.area_cm2(), a.filter, a.star_v0_e_s));
  if (conditions.measured_sky_e_s) {
    step("sky", "B = (background - offset) g / t - D of the test frame", fmt::format("{:.4g} e/s/px", a.sky_e_s));
  } else {
    step("sky", "B = F0(sky's colour) s^2 10^(-0.4 mu_sky)",
         fmt::format("mu_sky = {:.2f} mag/arcsec2 at this altitude, s^2 = {:.3f}: {:.4g} e/s/px",
                     conditions.sky_mag_arcsec2, scale * scale, a.sky_e_s));
  }
  if (a.line) {
    step("source", "S = I 1e6/(4 pi) A T s^2[sr] 10^(-0.4 k X)",
         fmt::format("I = {:.4g} rayleighs at {:.2f} nm, k = {:.3f}, X = {:.3f}: {:.4g} e/s/px", source.line_rayleighs,
                     a.line_nm, a.extinction_mag_airmass, conditions.airmass, a.source_e_s));
  } else {
    step("source", "S = F0 s^2 10^(-0.4 (mu + k X))",
         fmt::format("mu = {:.2f} mag/arcsec2, k = {:.3f}, X = {:.3f}: {:.4g} e/s/px", source.mag_arcsec2,
                     a.extinction_mag_airmass, conditions.airmass, a.source_e_s));
  }
  step("dark current", "D(T) = D0 (T/T0)^1.5 exp(-Eg/2kT + Eg/2kT0)",
       fmt::format("{:.3g} e/s/px at {:.0f} C, {:.3g} at {:.0f} C", s.dark_e_s, s.dark_reference_c, a.dark_e_s,
                   rig.cooler.temperature_c));
  step("shortest sub-exposure", "t = R^2 / ((B + D) ((1 + e)^2 - 1))",
       fmt::format("{:.3g}^2 / (({:.4g} + {:.3g}) x ({:.3f}^2 - 1)) = {:.1f} s", s.read_noise_e, a.sky_e_s, a.dark_e_s,
                   1 + w.read_noise_share, a.shortest_s));
  step("longest for bright stars", "t = saturation / (F(V) peak + B + D)",
       fmt::format(
           "{:.0f} e; {:.0f} stars of the field are brighter than V {:.2f} (mean of the sky times {:.3g}); a peak "
           "pixel gets {:.1f} % at FWHM {:.2f} px: {:.1f} s",
           s.saturation_e(), w.saturated_stars, a.saturating_v_mag, conditions.star_density, 100 * a.peak_share,
           a.fwhm_px, a.longest_saturation_s));
  step("longest for tracking",
       rig.guide ? "t = trail / rotation of the field at its corner (guided)"
                 : "t = trail / (drift and periodic error + rotation of the field)",
       fmt::format("{:.2g} px, polar axis {:.3g} arcmin off: {:.0f} s", w.trail_px, rig.mount.polar_error_arcmin,
                   a.longest_tracking_s));
  step("noise of one sub", "var = (S + B + D) t + R^2 + g^2/12 + var_dark/N_dark + level^2/(N_flat flat)",
       fmt::format("t = {:.4g} s, g = {:.3g} e/ADU, {} darks, {} flats: {:.1f} e2, noise {:.2f} e", a.sub_s,
                   s.gain_e_adu, w.darks, w.flats, a.sub_variance_e2, std::sqrt(a.sub_variance_e2)));
  step("SNR of one sub", "snr = S t sqrt(n / var)",
       fmt::format("{:.4g} x {:.4g} x sqrt({:.0f} / {:.1f}) = {:.4g}", a.source_e_s, a.sub_s, w.patch_px,
                   a.sub_variance_e2, a.sub_snr));
  step(
      "sub-exposures to the target", "N = (SNR / snr)^2, rounded up",
      fmt::format("({:.3g} / {:.4g})^2 = {:.0f}, {:.2f} h of exposure", w.target_snr, a.sub_snr, a.subs, a.exposure_h));
  step("one night, two nights", "SNR = snr sqrt(N); a second night: x sqrt 2, 0.376 mag deeper",
       fmt::format("{:.4g} h hold {:.0f} subs: {:.2f}, then {:.2f}", w.night_h, a.night_subs, a.night_snr,
                   a.two_nights_snr));
  step("files", "2 bytes a pixel, in blocks of 2880",
       fmt::format("{} x {}: {:.1f} MB each, {:.2f} GB to the target", s.width, s.height, a.file_mb, a.gigabytes));
  return steps;
}

}  // namespace ng::app
