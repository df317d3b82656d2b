// app/expose.h - how to expose through each filter: plan/exposure.h asked for the person's site and rig.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "app/site_night.h"
#include "base/context.h"
#include "base/instant.h"
#include "base/result.h"
#include "frame/bayer.h"
#include "plan/exposure.h"

namespace ng::app {

struct ExposeRequest {
  std::optional<std::filesystem::path> workspace;
  std::vector<std::string> filters;            // empty: all of the rig
  std::string target;                          // an object: what follows is then its own, where it is not given
  Instant at;                                  // its night: the one that holds this time, or follows
  std::optional<double> altitude_deg;          // of the target; none: 60
  std::optional<double> dec_deg;               // of the target; none: 45
  std::optional<double> surface_mag_arcsec2;   // V of what shall be seen; none: 23.5
  std::optional<double> night_h;               // dark hours on the target; none: 4
  std::optional<double> sky_mag_arcsec2;       // V behind the target; none: the site's dark sky at that altitude
  std::optional<double> gain_setting;          // instead of the one in rig.toml
  std::optional<double> temperature_c;         // of the sensor, likewise
  std::optional<std::filesystem::path> frame;  // a test frame: its sky and its stars replace the assumed ones
  std::optional<BayerPattern> bayer;           // of that frame
  double star_density = 1;
  double line_rayleighs = 20;  // of what shall be seen through narrow filters
  plan::ExposureWish wish;     // but its night_h
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("filters", self.filters);
    visit("target", self.target);
    visit("at", self.at);
    visit("altitude_deg", self.altitude_deg);
    visit("dec_deg", self.dec_deg);
    visit("sky_mag_arcsec2", self.sky_mag_arcsec2);
    visit("gain_setting", self.gain_setting);
    visit("temperature_c", self.temperature_c);
    visit("frame", self.frame);
    visit("star_density", self.star_density);
    visit("surface_mag_arcsec2", self.surface_mag_arcsec2);
    visit("line_rayleighs", self.line_rayleighs);
    visit("read_noise_share", self.wish.read_noise_share);
    visit("dark_noise_share", self.wish.dark_noise_share);
    visit("saturated_stars", self.wish.saturated_stars);
    visit("trail_px", self.wish.trail_px);
    visit("target_snr", self.wish.target_snr);
    visit("patch_px", self.wish.patch_px);
    visit("night_h", self.night_h);
    visit("sub_s", self.wish.sub_s);
    visit("darks", self.wish.darks);
    visit("flats", self.wish.flats);
    visit("flat_level", self.wish.flat_level);
  }
};

struct ExposeGain {
  plan::GainAdvice row;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("setting", self.row.setting);
    visit("gain_e_adu", self.row.gain_e_adu);
    visit("read_noise_e", self.row.read_noise_e);
    visit("saturation_e", self.row.saturation_e);
    visit("dynamic_range", self.row.dynamic_range);
    visit("shortest_s", self.row.shortest_s);
    visit("longest_saturation_s", self.row.longest_s);
    visit("room", self.row.room);
  }
};

// One number, its formula, and the formula with its numbers.
struct ExposeStep {
  std::string what, formula, numbers;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("what", self.what);
    visit("formula", self.formula);
    visit("numbers", self.numbers);
  }
};

struct ExposeFilter {
  plan::ExposureAdvice advice;
  std::string limit;  // what decided the sub-exposure, in words
  std::vector<ExposeGain> gains;
  std::vector<ExposeStep> steps;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    auto& a = self.advice;
    visit("filter", a.filter);
    visit("source_is_line", a.line);
    visit("line_nm", a.line_nm);
    visit("wavelength_nm", a.wavelength_nm);
    visit("extinction_mag_airmass", a.extinction_mag_airmass);
    visit("star_v0_e_s", a.star_v0_e_s);
    visit("sky_e_s", a.sky_e_s);
    visit("source_e_s", a.source_e_s);
    visit("dark_e_s", a.dark_e_s);
    visit("fwhm_px", a.fwhm_px);
    visit("peak_share", a.peak_share);
    visit("shortest_s", a.shortest_s);
    visit("saturating_v_mag", a.saturating_v_mag);
    visit("longest_saturation_s", a.longest_saturation_s);
    visit("longest_tracking_s", a.longest_tracking_s);
    visit("sub_s", a.sub_s);
    visit("limit", self.limit);
    visit("read_noise_share", a.read_noise_share);
    visit("gain_setting", a.gain_setting);
    visit("advised_gain", a.advised_gain);
    visit("gains", self.gains);
    visit("warmest_c", a.warmest_c);
    visit("coldest_c", a.coldest_c);
    visit("sub_variance_e2", a.sub_variance_e2);
    visit("sub_snr", a.sub_snr);
    visit("subs", a.subs);
    visit("exposure_h", a.exposure_h);
    visit("night_needed_h", a.night_needed_h);
    visit("night_subs", a.night_subs);
    visit("night_snr", a.night_snr);
    visit("two_nights_snr", a.two_nights_snr);
    visit("deeper_mag", a.deeper_mag);
    visit("file_mb", a.file_mb);
    visit("gigabytes", a.gigabytes);
    visit("night_gigabytes", a.night_gigabytes);
    visit("flags", a.flags);
    visit("steps", self.steps);
  }
};

// What the test frame told, beside what was expected of it.
struct ExposeFrame {
  std::string path, filter;
  double exposure_s = 0;
  double background_e_s = 0, sky_e_s = 0, expected_sky_e_s = 0, sky_mag_arcsec2 = 0;
  double noise_e = 0, expected_noise_e = 0;
  std::optional<double> fwhm_px;
  int stars = 0, saturated_stars = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("filter", self.filter);
    visit("exposure_s", self.exposure_s);
    visit("background_e_s", self.background_e_s);
    visit("sky_e_s", self.sky_e_s);
    visit("expected_sky_e_s", self.expected_sky_e_s);
    visit("sky_mag_arcsec2", self.sky_mag_arcsec2);
    visit("noise_e", self.noise_e);
    visit("expected_noise_e", self.expected_noise_e);
    visit("fwhm_px", self.fwhm_px);
    visit("stars", self.stars);
    visit("saturated_stars", self.saturated_stars);
  }
};

struct ExposeReply {
  std::string site, rig;
  double altitude_deg = 0, airmass = 0, sky_mag_arcsec2 = 0;
  double scale_arcsec_px = 0, field_width_deg = 0, field_height_deg = 0, focal_length_mm = 0, focal_ratio = 0;
  double temperature_c = 0;
  double read_noise_share_wish = 0, saturated_stars_wish = 0, target_snr = 0, patch_px = 0, night_h = 0;
  double source_mag_arcsec2 = 0, source_rayleighs = 0;
  double focus_zone_um = 0;  // stars widen by a tenth at most within it
  std::optional<double> dither_guide_px;
  std::optional<TargetNight> target;
  std::optional<ExposeFrame> frame;
  std::vector<ExposeFilter> filters;
  std::vector<std::string> notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("site", self.site);
    visit("rig", self.rig);
    visit("altitude_deg", self.altitude_deg);
    visit("airmass", self.airmass);
    visit("sky_mag_arcsec2", self.sky_mag_arcsec2);
    visit("scale_arcsec_px", self.scale_arcsec_px);
    visit("field_width_deg", self.field_width_deg);
    visit("field_height_deg", self.field_height_deg);
    visit("focal_length_mm", self.focal_length_mm);
    visit("focal_ratio", self.focal_ratio);
    visit("temperature_c", self.temperature_c);
    visit("read_noise_share_wish", self.read_noise_share_wish);
    visit("saturated_stars_wish", self.saturated_stars_wish);
    visit("target_snr", self.target_snr);
    visit("patch_px", self.patch_px);
    visit("night_h", self.night_h);
    visit("source_mag_arcsec2", self.source_mag_arcsec2);
    visit("source_rayleighs", self.source_rayleighs);
    visit("focus_zone_um", self.focus_zone_um);
    visit("dither_guide_px", self.dither_guide_px);
    visit("target", self.target);
    visit("frame", self.frame);
    visit("filters", self.filters);
    visit("notes", self.notes);
  }
};

// Errors: those of the workspace, of the frame, and kInvalidInput (an altitude, filter, gain or wish that cannot be).
[[nodiscard]] Result<ExposeReply> expose(const ExposeRequest& request, const Context& ctx);

}  // namespace ng::app
