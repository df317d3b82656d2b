#include "app/expose.h"

#include <fmt/format.h>

#include <cmath>

#include "app/expose_explain.h"
#include "app/measure.h"
#include "app/workspace.h"
#include "base/angle.h"
#include "io/open_frame.h"
#include "rig/focus_depth.h"
#include "rig/signal.h"
#include "sky/airmass.h"
#include "sky/dark_sky.h"
#include "sky/extinction.h"

namespace ng::app {
namespace {

const char* words_of(plan::SubLimit limit) {
  switch (limit) {
    case plan::SubLimit::kReadNoise:
      return "read noise";
    case plan::SubLimit::kOverhead:
      return "pauses between exposures";
    case plan::SubLimit::kSaturation:
      return "bright stars";
    case plan::SubLimit::kTracking:
      return "tracking";
    case plan::SubLimit::kWish:
      return "as you wished";
  }
  return "";
}

Result<void> choose_settings(const ExposeRequest& r, rig::Rig& rig) {
  if (r.gain_setting) {
    NG_TRY(const rig::GainRow row, rig.gains.at(*r.gain_setting));
    rig.sensor = rig::at_gain(std::move(rig.sensor), row);
    rig.gain_setting = *r.gain_setting;
  }
  if (r.temperature_c) {
    if (!(*r.temperature_c >= -80 && *r.temperature_c <= 60))
      return Error(Code::kInvalidInput,
                   fmt::format("a sensor at {} C: it must lie between -80 and 60", *r.temperature_c));
    rig.cooler.temperature_c = *r.temperature_c;
  }
  return {};
}

Result<std::vector<rig::Filter>> chosen_filters(const ExposeRequest& r, const rig::Rig& rig) {
  if (r.filters.empty()) return rig.filters;
  std::vector<rig::Filter> filters;
  for (const std::string& name : r.filters) {
    NG_TRY(rig::Filter filter, rig.filter(name));
    filters.push_back(std::move(filter));
  }
  return filters;
}

// Sky and stars of a test frame, in electrons. What its header says beats what rig.toml says.
Result<ExposeFrame> measure_frame(const ExposeRequest& r, const rig::Rig& rig, std::vector<std::string>& notes,
                                  const Context& ctx) {
  const std::string where = r.frame->string();
  MeasureRequest request;
  request.file = *r.frame;
  request.bayer = r.bayer;
  NG_TRY(const MeasureReply m, measure(request, ctx));
  NG_TRY(const std::unique_ptr<FrameSource> source, io::open_frame(*r.frame));
  const FrameFacts& facts = source->facts();
  if (!facts.exposure_s || !(*facts.exposure_s > 0))
    return Error(Code::kInvalidInput, where + ": its header states no exposure time; take a frame that does");
  ExposeFrame f;
  f.path = where;
  f.filter = facts.filter;
  f.exposure_s = *facts.exposure_s;
  const double gain = facts.electrons_per_adu.value_or(rig.sensor.gain_e_adu);
  if (!facts.electrons_per_adu)
    notes.push_back(fmt::format("the test frame does not state electrons per ADU: {} of rig.toml", gain));
  double offset = facts.black_level_adu.value_or(rig.sensor.offset_adu);
  if (facts.dark_subtracted || facts.calibrated) offset = 0;
  f.background_e_s = (m.background - offset) * gain / f.exposure_s;
  const double dark = facts.dark_subtracted || facts.calibrated
                          ? 0
                          : rig.sensor.dark_rate_e_s(facts.sensor_temperature_c.value_or(rig.cooler.temperature_c));
  f.sky_e_s = f.background_e_s - dark;
  if (!(f.sky_e_s > 0))
    return Error(
        Code::kInvalidInput,
        fmt::format("{}: its background of {:.1f} ADU lies below the offset of {:.1f}: correct sensor.offset_adu, "
                    "or take a light",
                    where, m.background, offset));
  f.noise_e = m.noise * gain;
  const rig::PixelExposure pixel{0, f.sky_e_s, dark, rig.sensor.read_noise_e, gain, f.exposure_s};
  f.expected_noise_e = std::sqrt(pixel.variance_e2());
  f.fwhm_px = m.fwhm_px;
  f.stars = static_cast<int>(m.stars.size());
  for (const MeasuredStar& star : m.stars) f.saturated_stars += star.saturated ? 1 : 0;
  return f;
}

// Where the telescope points, and at what.
struct Aim {
  double altitude_deg = 60;
  plan::Conditions conditions;
  plan::FaintSource source;
  double night_h = 4;
};

// The altitude in [5, 90] degrees at which air is so thick.
double altitude_of(double airmass) {
  double low = deg_to_rad(5.0), high = kPi / 2;
  for (int i = 0; i < 40; ++i) (sky::airmass((low + high) / 2) > airmass ? low : high) = (low + high) / 2;
  return (low + high) / 2;
}

Result<Aim> aim_of(const ExposeRequest& r, const rig::ObservingSite& site, const std::optional<TargetNight>& target) {
  Aim aim;
  if (target) aim.altitude_deg = rad_to_deg(altitude_of(target->mean_airmass));
  aim.altitude_deg = r.altitude_deg.value_or(aim.altitude_deg);
  if (!(aim.altitude_deg > 0 && aim.altitude_deg <= 90))
    return Error(Code::kInvalidInput,
                 fmt::format("an altitude of {} degrees: it must lie above 0 and at most at 90", aim.altitude_deg));
  const double dec_deg = r.dec_deg.value_or(target ? target->dec_deg : 45);
  if (!(std::fabs(dec_deg) < 90))
    return Error(Code::kInvalidInput, fmt::format("a declination of {}: it must lie between -90 and 90", dec_deg));
  const double altitude = deg_to_rad(aim.altitude_deg);
  const double k = site.extinction_mag_airmass.value_or(sky::clear_air_extinction(site.elevation_m / 1000, 550));
  plan::Conditions& c = aim.conditions;
  c.airmass = sky::airmass(altitude);
  c.dec_rad = deg_to_rad(dec_deg);
  c.star_density = r.star_density;
  c.sky_mag_arcsec2 = site.sky_mag_arcsec2 - 2.5 * std::log10(sky::dark_sky_ratio(kPi / 2 - altitude, k));
  if (target && !r.altitude_deg) c.sky_mag_arcsec2 = target->sky_mag_arcsec2;
  c.sky_mag_arcsec2 = r.sky_mag_arcsec2.value_or(c.sky_mag_arcsec2);
  aim.source.line_rayleighs = r.line_rayleighs;
  aim.source.mag_arcsec2 =
      r.surface_mag_arcsec2.value_or(target ? target->surface_mag_arcsec2 : aim.source.mag_arcsec2);
  aim.night_h = r.night_h.value_or(target ? target->usable_h : aim.night_h);
  return aim;
}

}  // namespace

Result<ExposeReply> expose(const ExposeRequest& r, const Context& ctx) {
  NG_TRY(Workspace w, open_workspace(r.workspace));
  NG_CHECK(choose_settings(r, w.rig));
  NG_TRY(std::vector<rig::Filter> filters, chosen_filters(r, w.rig));

  ExposeReply reply;
  reply.notes = w.notes;
  if (!r.target.empty()) {
    NG_TRY(reply.target, target_night(w.site, r.target, r.at));
    if (reply.target->brightness_assumed && !r.surface_mag_arcsec2)
      reply.notes.push_back(
          fmt::format("the catalogue does not tell how bright {} is: a usual brightness of its kind is "
                      "assumed; give yours by --surface-mag-arcsec2",
                      reply.target->name));
  }
  NG_TRY(const Aim aim, aim_of(r, w.site, reply.target));
  plan::Conditions c = aim.conditions;
  plan::ExposureWish wish = r.wish;
  wish.night_h = aim.night_h;
  if (r.frame) {
    NG_TRY(reply.frame, measure_frame(r, w.rig, reply.notes, ctx));
    if (!reply.frame->filter.empty() && r.filters.empty()) {
      NG_TRY(rig::Filter filter, w.rig.filter(reply.frame->filter).in(reply.frame->path));
      filters = {std::move(filter)};
    }
    if (filters.size() != 1)
      return Error(Code::kInvalidInput,
                   fmt::format("{}: say with --filters through which filter it was taken", reply.frame->path));
    c.measured_sky_e_s = reply.frame->sky_e_s;
    c.measured_fwhm_px = reply.frame->fwhm_px;
  }

  reply.site = w.site.name;
  reply.rig = w.rig.name;
  reply.altitude_deg = aim.altitude_deg;
  reply.airmass = c.airmass;
  reply.sky_mag_arcsec2 = c.sky_mag_arcsec2;
  reply.scale_arcsec_px = w.rig.scale_arcsec_px();
  reply.field_width_deg = w.rig.field_width_deg();
  reply.field_height_deg = w.rig.field_height_deg();
  reply.focal_length_mm = w.rig.optics.effective_focal_length_mm();
  reply.focal_ratio = w.rig.optics.focal_ratio();
  reply.temperature_c = w.rig.cooler.temperature_c;
  reply.read_noise_share_wish = wish.read_noise_share;
  reply.saturated_stars_wish = wish.saturated_stars;
  reply.target_snr = wish.target_snr;
  reply.patch_px = wish.patch_px;
  reply.night_h = wish.night_h;
  reply.source_mag_arcsec2 = aim.source.mag_arcsec2;
  reply.source_rayleighs = aim.source.line_rayleighs;
  reply.focus_zone_um = rig::seeing_focus_zone_um(w.rig.optics, w.site.seeing_fwhm_arcsec, 0.1);
  if (w.rig.guide)
    reply.dither_guide_px =
        w.rig.timing.dither_px * rig::guide_pixels_per_main_pixel(*w.rig.guide, reply.scale_arcsec_px);
  if (w.rig.sensor.bayer)
    reply.notes.emplace_back(
        "a mosaic sensor: the numbers hold for its green pixels through the filter as given, if their "
        "dye is in quantum_efficiency_percent_by_nm; red and blue take about twice the time");
  for (const rig::Filter& filter : filters) {
    ExposeFilter one;
    NG_TRY(one.advice, plan::advise_exposure(w.rig, filter, w.site, aim.source, c, wish));
    one.limit = words_of(one.advice.limit);
    for (const plan::GainAdvice& g : one.advice.gains) one.gains.push_back({g});
    one.steps = explain_exposure(one.advice, w.rig, wish, aim.source, c);
    if (reply.frame) {
      plan::Conditions assumed = c;
      assumed.measured_sky_e_s.reset();
      NG_TRY(const plan::ExposureAdvice a, plan::advise_exposure(w.rig, filter, w.site, aim.source, assumed, wish));
      reply.frame->expected_sky_e_s = a.sky_e_s;
      reply.frame->sky_mag_arcsec2 = c.sky_mag_arcsec2 - 2.5 * std::log10(reply.frame->sky_e_s / a.sky_e_s);
    }
    reply.filters.push_back(std::move(one));
  }
  return reply;
}

}  // namespace ng::app
