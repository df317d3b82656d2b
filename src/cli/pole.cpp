#include "app/pole.h"

#include <fmt/format.h>

#include <cmath>
#include <memory>
#include <tuple>

#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(The quick way: take two or three frames, a few seconds each, anywhere in the sky; between them turn the right-ascension
axis alone, by 20 degrees or more (hold the declination). Then turn the bolts as it says, take one more frame, and give
it with --update.
The slow way, where the axis cannot be turned far or for a check: let the mount follow a place near the meridian without
guiding, take two frames some ten minutes apart, do the same for a place in the east or west, and give both pairs with
--drift; or give a guide log that was written with the corrections in declination switched off.
Never point any optics near the Sun. Hold the telescope before you loosen a bolt or a clutch: gear is heavy in the dark.

Examples:
  nightglass pole a.fits b.fits --lat-deg 46.5 --lon-deg 8.2 --elevation-m 900
  nightglass pole a.fits b.fits c.fits --lat-deg 46.5 --lon-deg 8.2 --altitude-bolt-mm 1.5 120 --azimuth-bolt-mm 1.25 60
  nightglass pole a.fits b.fits --update d.fits --update e.fits --lat-deg 46.5 --lon-deg 8.2
  nightglass pole --drift south1.fits south2.fits --drift east1.fits east2.fits --lat-deg 46.5 --lon-deg 8.2
  nightglass pole --guide-log south.csv 97.98 4.94 2026-01-14T21:30:00 --drift east1.fits east2.fits)";

std::string text_of(const app::PoleReply& r) {
  std::string text;
  for (const app::PoleSeenDrift& d : r.seen_drifts) {
    text += fmt::format("\ndrift of {}\n", d.from);
    text += fmt::format(
        "  at hour angle {:+.1f} h: {:+.2f} +- {:.2f} arcsec north in {:.1f} min; the axis is off by {:.1f} "
        "arcmin at least\n",
        d.hour_angle_deg / 15, d.north_arcsec, d.north_error_arcsec, d.minutes, d.least_arcmin);
    if (d.azimuth_only_arcmin)
      text += fmt::format("  if only the azimuth is wrong: {:.1f} arcmin too far {}\n",
                          std::fabs(*d.azimuth_only_arcmin), *d.azimuth_only_arcmin > 0 ? "east" : "west");
    if (d.altitude_only_arcmin)
      text += fmt::format("  if only the altitude is wrong: {:.1f} arcmin too {}\n", std::fabs(*d.altitude_only_arcmin),
                          *d.altitude_only_arcmin > 0 ? "high" : "low");
  }
  for (const app::PoleState& s : r.states) {
    text += fmt::format("\nafter {}\n", s.after);
    text += fmt::format("  the axis points to azimuth {:.4f}, altitude {:.4f} deg (+- {:.0f} and {:.0f} arcsec)\n",
                        s.azimuth_deg, s.altitude_deg, s.azimuth_error_arcsec, s.altitude_error_arcsec);
    text +=
        fmt::format("  {:.1f} arcmin +- {:.0f} arcsec from {}\n", s.distance_arcmin, s.distance_error_arcsec, r.goal);
    for (const std::string& words : s.words) text += "  " + words + "\n";
  }
  text += fmt::format("\nthe pole: altitude {:.4f} deg, seen at {:.4f} through {:.0f} hPa of air",
                      r.true_pole_altitude_deg, r.seen_pole_altitude_deg, r.pressure_hpa);
  if (r.turned_deg > 0 && r.seen_drifts.empty())
    text += fmt::format("; the axis was turned by {:.0f} deg", r.turned_deg);
  if (r.turned_deg > 0 && !r.seen_drifts.empty())
    text += fmt::format("; the places lie {:.0f} deg of hour angle apart", r.turned_deg);
  text += "\n";
  if (r.tolerance_guided_arcmin)
    text += fmt::format("half a pixel in {:.0f} s: within {:.1f} arcmin when guided, {:.1f} arcmin unguided\n",
                        r.exposure_s, *r.tolerance_guided_arcmin, *r.tolerance_unguided_arcmin);
  for (const app::PoleDrift& d : r.drifts)
    text += fmt::format(
        "drift of the target with the axis {}: {:+.1f} arcsec north, {:+.1f} east; field turns by {:+.2f} "
        "arcmin\n",
        d.axis, d.north_arcsec, d.east_arcsec, d.rotation_arcmin);
  return text.substr(1);
}

std::optional<app::Bolt> bolt_of(const std::vector<double>& numbers) {
  if (numbers.size() != 2) return std::nullopt;
  return app::Bolt{numbers[0], numbers[1]};
}

using GuideLogWords = std::tuple<std::string, double, double, std::string>;

Result<std::vector<app::PoleGuideLog>> logs_of(const std::vector<GuideLogWords>& words) {
  std::vector<app::PoleGuideLog> logs;
  for (const auto& [file, ra_deg, dec_deg, begin_text] : words) {
    const auto begin = Instant::parse(begin_text);
    if (!begin)
      return Error(Code::kInvalidInput, "--guide-log " + file +
                                            ": its second 0 must be a UTC time like "
                                            "2026-01-14T21:30:00, not " +
                                            begin_text);
    logs.push_back({file, ra_deg, dec_deg, *begin});
  }
  return logs;
}

}  // namespace

void add_pole(CLI::App& root, Session& session) {
  struct Options {
    app::PoleRequest request;
    std::vector<std::string> files, updates, catalogues;
    std::vector<std::pair<std::string, std::string>> drifts;
    std::vector<GuideLogWords> guide_logs;
    std::vector<double> altitude_bolt, azimuth_bolt;
  };
  auto o = std::make_shared<Options>();
  CLI::App* command = session.add_command(root, "pole", "Where the polar axis points, and which bolt to turn which way",
                                          kHelp, [o, &session]() -> Result<void> {
                                            app::PoleRequest& r = o->request;
                                            r.files.assign(o->files.begin(), o->files.end());
                                            r.updates.assign(o->updates.begin(), o->updates.end());
                                            r.catalogues.assign(o->catalogues.begin(), o->catalogues.end());
                                            r.pairs.clear();
                                            for (const auto& [first, second] : o->drifts)
                                              r.pairs.push_back({first, second});
                                            NG_TRY(r.guide_logs, logs_of(o->guide_logs));
                                            r.altitude_bolt = bolt_of(o->altitude_bolt);
                                            r.azimuth_bolt = bolt_of(o->azimuth_bolt);
                                            NG_TRY(const app::PoleReply reply, app::pole(r, session.context()));
                                            for (const std::string& note : reply.notes) session.note("note: " + note);
                                            if (session.json()) {
                                              session.print(app::to_json(reply));
                                            } else {
                                              session.print(text_of(reply));
                                            }
                                            return {};
                                          });
  app::PoleRequest& r = o->request;
  command->add_option("files", o->files, "Frames between which only the right-ascension axis was turned");
  command->add_option("--drift", o->drifts,
                      "Two frames of one place, minutes apart, the mount following; may be repeated");
  command
      ->add_option("--guide-log", o->guide_logs,
                   "Table with the columns seconds and north_arcsec, the star's place in degrees, and the UTC time of "
                   "second 0; may be repeated")
      ->type_name("FILE RA DEC UTC");
  command->add_option("--update", o->updates, "Frame after the bolts were turned; may be repeated, in order of time")
      ->allow_extra_args(false);
  command->add_option("--workspace", r.workspace, "Whose site and catalogues are used; default: the nearest upwards");
  command->add_option("--lat-deg", r.lat_deg,
                      "Latitude, north positive; default: the site of the workspace, else what the first file says");
  command->add_option("--lon-deg", r.lon_deg, "Longitude, east positive");
  command->add_option("--elevation-m", r.elevation_m, "Height above the sea");
  command->add_option("--pressure-hpa", r.pressure_hpa, "Air pressure, for refraction; default: usual at that height")
      ->check(CLI::Range(0.0, 1200.0));
  command->add_option("--temperature-c", r.temperature_c, "Air temperature")->capture_default_str();
  command->add_option("--catalogue", o->catalogues, "Imported catalogue, or a folder of them; may be repeated")
      ->allow_extra_args(false);
  command->add_flag("--trust-header", r.trust_header, "Take the solutions that the files carry instead of solving");
  command->add_option("--altitude-bolt-mm", o->altitude_bolt, "Thread pitch, and distance from the axle, of that bolt")
      ->expected(2);
  command->add_option("--azimuth-bolt-mm", o->azimuth_bolt, "The same of the azimuth bolts")->expected(2);
  command->add_option("--target-ra-deg", r.target_ra_deg, "What is planned: right ascension");
  command->add_option("--target-dec-deg", r.target_dec_deg, "and declination");
  command->add_option("--exposure-s", r.exposure_s, "and seconds of one exposure")->capture_default_str();
}

}  // namespace ng::cli
