#include "app/expose.h"

#include <fmt/format.h>

#include <cmath>

#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(For each filter: how bright the sky is, the shortest sub-exposure that drowns the read noise, the longest before bright
stars saturate or tracking shows, the gain, the sensor temperature, and how many sub-exposures it takes to see a faint
surface. Site and rig come from the workspace. --explain shows each formula with its numbers; --frame takes sky and
stars from a test frame of yours instead of the assumed ones.

Examples:
  nightglass expose                                     every filter, target 60 degrees high, dark sky of the site
  nightglass expose --filters Ha,OIII --line-rayleighs 30 --snr 15 --night-h 6
  nightglass expose --filters L --explain
  nightglass expose --target "M 33" --at 2026-12-12T20:00     for its altitude, hours, sky and brightness in that night
  nightglass expose --frame test.fits                   advice from a measured sky)";

struct Options {
  app::ExposeRequest request;
  std::string workspace, frame, bayer, at;
  bool explain = false;
};

std::string time_text(double seconds) {
  if (!std::isfinite(seconds)) return "-";
  return seconds < 10 ? fmt::format("{:.1f}", seconds) : fmt::format("{:.0f}", seconds);
}

std::string head_of(const app::ExposeReply& r) {
  std::string text =
      fmt::format("{} at {}: {:.0f} mm f/{:.1f}, {:.2f} arcsec/px, field {:.2f} x {:.2f} degrees\n", r.rig, r.site,
                  r.focal_length_mm, r.focal_ratio, r.scale_arcsec_px, r.field_width_deg, r.field_height_deg);
  text +=
      fmt::format("target {:.0f} degrees high (airmass {:.2f}), sky behind it {:.2f} mag/arcsec2, sensor at {:.0f} C\n",
                  r.altitude_deg, r.airmass, r.sky_mag_arcsec2, r.temperature_c);
  if (r.target) {
    const app::TargetNight& t = *r.target;
    text += fmt::format(
        "{}, {}: {} to {} above its limit in the dark ({:.1f} h), {:.0f} degrees at most, mean airmass {:.2f}; "
        "{:.1f} mag/arcsec2{}\n",
        t.title, t.whereabouts, t.local_from, t.local_to, t.usable_h, t.highest_altitude_deg, t.mean_airmass,
        t.surface_mag_arcsec2, t.brightness_assumed ? " assumed" : " in the mean");
  }
  text += fmt::format("focus within {:.0f} um (stars widen by a tenth at most)", r.focus_zone_um);
  if (r.dither_guide_px) text += fmt::format("; the dither is {:.2f} guide pixels", *r.dither_guide_px);
  text += "\n";
  if (r.frame) {
    const app::ExposeFrame& f = *r.frame;
    text += fmt::format(
        "test frame: sky {:.3g} e/s/px measured, {:.3g} expected ({:.2f} mag/arcsec2); noise {:.1f} e "
        "measured, {:.1f} expected; {} stars, {} saturated\n",
        f.sky_e_s, f.expected_sky_e_s, f.sky_mag_arcsec2, f.noise_e, f.expected_noise_e, f.stars, f.saturated_stars);
  }
  return text + "\n";
}

std::string gain_curve_of(const app::ExposeFilter& f) {
  std::string text = fmt::format("  {:>8} {:>9} {:>10} {:>10} {:>10} {:>10} {:>8}\n", "setting", "e/ADU", "read e",
                                 "full e", "shortest s", "longest s", "room");
  for (const app::ExposeGain& g : f.gains)
    text +=
        fmt::format("  {:>8} {:>9.3f} {:>10.2f} {:>10.0f} {:>10} {:>10} {:>8.0f}{}\n", g.row.setting, g.row.gain_e_adu,
                    g.row.read_noise_e, g.row.saturation_e, time_text(g.row.shortest_s), time_text(g.row.longest_s),
                    g.row.room, g.row.setting == f.advice.advised_gain ? "  most room" : "");
  return text;
}

std::string summary_of(const app::ExposeReply& r, bool explain) {
  std::string text = head_of(r);
  text += fmt::format("{:<6} {:>9} {:>9} {:>9} {:>9} {:>9} {:>6}  {:<24} {:>6} {:>7} {:>6} {:>7} {:>7}\n", "filter",
                      "sky e/s", "source", "shortest", "saturate", "tracking", "sub s", "decided by", "subs", "hours",
                      "GB", "1 night", "2 nights");
  for (const app::ExposeFilter& f : r.filters) {
    const plan::ExposureAdvice& a = f.advice;
    text += fmt::format(
        "{:<6} {:>9.3g} {:>9.3g} {:>9} {:>9} {:>9} {:>6}  {:<24} {:>6.0f} {:>7.2f} {:>6.2f} {:>7.1f} {:>7.1f}\n",
        a.filter, a.sky_e_s, a.source_e_s, time_text(a.shortest_s), time_text(a.longest_saturation_s),
        time_text(a.longest_tracking_s), time_text(a.sub_s), f.limit, a.subs, a.night_needed_h, a.gigabytes,
        a.night_snr, a.two_nights_snr);
  }
  text += fmt::format(
      "\nSeconds. Rates per pixel. shortest: read noise adds {:.0f} %; saturate: {:.0f} stars of the field do.\n"
      "subs, hours (pauses included), GB: to SNR {:.3g} over {:.0f} px on {:.2f} mag/arcsec2, or {:.3g} "
      "rayleighs of a line in a\nnarrow band. 1 night, 2 nights: the SNR of {:.3g} h and of twice that.\n\n",
      100 * r.read_noise_share_wish, r.saturated_stars_wish, r.target_snr, r.patch_px, r.source_mag_arcsec2,
      r.source_rayleighs, r.night_h);
  for (const app::ExposeFilter& f : r.filters) {
    const plan::ExposureAdvice& a = f.advice;
    text += fmt::format("{}: gain {} in use, {} leaves most room", a.filter, a.gain_setting, a.advised_gain);
    if (a.warmest_c) text += fmt::format("; sensor below {:.0f} C ({:.0f} C is reached)", *a.warmest_c, a.coldest_c);
    text += fmt::format("; {:.1f} MB a file\n", a.file_mb);
    for (const std::string& flag : a.flags) text += fmt::format("  ! {}\n", flag);
    if (!explain) continue;
    text += gain_curve_of(f);
    for (const app::ExposeStep& s : f.steps)
      text += fmt::format("  {}\n    {}\n    {}\n", s.what, s.formula, s.numbers);
  }
  return text;
}

Result<void> run(Options& o, const Session& session) {
  app::ExposeRequest& r = o.request;
  if (!o.workspace.empty()) r.workspace = o.workspace;
  if (!o.frame.empty()) r.frame = o.frame;
  if (!o.bayer.empty()) r.bayer = parse_bayer(o.bayer);
  r.at = o.at.empty() ? now() : *Instant::parse(o.at);
  NG_TRY(const app::ExposeReply reply, app::expose(r, session.context()));
  if (session.json()) {
    session.print(app::to_json(reply));
    return {};
  }
  for (const std::string& note : reply.notes) session.note("note: " + note);
  session.print(summary_of(reply, o.explain));
  return {};
}

}  // namespace

void add_expose(CLI::App& root, Session& session) {
  const auto options = std::make_shared<Options>();
  CLI::App* command = session.add_command(root, "expose", "Sub-exposure, gain, cooling and count for each filter",
                                          kHelp, [options, &session] { return run(*options, session); });
  Options& o = *options;
  app::ExposeRequest& r = o.request;
  plan::ExposureWish& w = r.wish;
  command->add_option("--workspace", o.workspace, "Folder with site.toml and rig.toml; default: the nearest upwards");
  command->add_option("--filters", r.filters, "Of the rig, like L,Ha; default: all")->delimiter(',');
  command->add_option("--target", r.target, "An object: its altitude, hours and sky in the night, and its brightness");
  command->add_option("--at", o.at, "The night that holds this time, or follows; UTC; default: now")
      ->check([](const std::string& text) { return Instant::parse(text) ? "" : "write it like 2026-12-12T20:00"; });
  command->add_option("--altitude-deg", r.altitude_deg, "Of the target; default: its mean, else 60");
  command->add_option("--dec-deg", r.dec_deg, "Declination of the target; default: its own, else 45");
  command->add_option("--sky-mag-arcsec2", r.sky_mag_arcsec2,
                      "V behind the target, Moon included; default: the dark sky of the site at that altitude");
  command->add_option("--surface-mag-arcsec2", r.surface_mag_arcsec2,
                      "V of what shall be seen, above the air; default: the mean of the target, else 23.5");
  command->add_option("--line-rayleighs", r.line_rayleighs, "The same for a line in a narrow band")
      ->capture_default_str();
  command->add_option("--snr", w.target_snr, "To be reached")->capture_default_str();
  command->add_option("--patch-px", w.patch_px, "Pixels over which it shall be reached")->capture_default_str();
  command->add_option("--night-h", r.night_h, "Dark hours of a night on the target; default: its own, else 4");
  command->add_option("--sub-s", w.sub_s, "A sub-exposure of yours instead of the advised one");
  command->add_option("--gain-setting", r.gain_setting, "Instead of the one in rig.toml");
  command->add_option("--temperature-c", r.temperature_c, "Of the sensor, instead of the one in rig.toml");
  command->add_option("--read-noise-share", w.read_noise_share, "That read noise may add to the noise")
      ->capture_default_str();
  command->add_option("--dark-noise-share", w.dark_noise_share, "That dark current may add")->capture_default_str();
  command->add_option("--saturated-stars", w.saturated_stars, "That the field may hold")->capture_default_str();
  command->add_option("--star-density", r.star_density, "Of the field over the mean sky: 3 in the Milky Way")
      ->check(CLI::Range(0.01, 100.0))
      ->capture_default_str();
  command->add_option("--darks", w.darks, "Dark frames you will have")->capture_default_str();
  command->add_option("--flats", w.flats, "Flats of each filter")->capture_default_str();
  command->add_option("--frame", o.frame, "A test frame: its sky and stars replace the assumed ones");
  command->add_option("--bayer", o.bayer, "Mosaic of that frame, where it does not say")
      ->check(CLI::IsMember({"RGGB", "BGGR", "GRBG", "GBRG"}));
  command->add_flag("--explain", o.explain, "Show the gain curve, and each formula with its numbers");
}

}  // namespace ng::cli
