#include "app/tonight.h"

#include <fmt/format.h>

#include "base/angle.h"
#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(Every object of the catalogue is held against this night, site and rig. Minutes above the limit and the horizon are
weighted by extinction, moonlight and twilight into equivalent minutes: what a minute of the dark zenith would bring. The
need is the time to reach --snr on a patch of the seeing's width where the object is 2 mag fainter than its mean, all panels
together; "~" before it: the catalogue has no brightness, a usual one of its kind is assumed. Ranked by worth: fit to the
field x root of the share of the need that this night gives x use of the night (less than 3 hours count in proportion, and
star clusters are done within one) x how much its list promises. What lies in the field of a better one goes with it. What
is within 30 degrees of the Sun is left out.

Examples:
  nightglass tonight                                               of the workspace around the current folder
  nightglass tonight --date 2027-01-07 --kind nebula --lines --filter Ha
  nightglass tonight --constellation Triangulum --smallest-arcmin 1
  nightglass tonight --have "M 33=6.5"                             6.5 hours of it are there already)";

struct Options {
  app::TonightRequest request;
  std::string workspace;
  std::vector<std::string> have;
};

std::string text_of(const app::TonightReply& r) {
  const auto clock = [](const std::optional<std::string>& at) { return at.value_or("none"); };
  std::string text =
      fmt::format("Night of {}, {}, {} through {} ({:.2f} x {:.2f} degrees, {:.2f}\"/px); times are {}\n", r.date,
                  r.site, r.rig, r.filter, r.field_width_deg, r.field_height_deg, r.scale_arcsec_px, r.time_zone);
  text += fmt::format("dark {} to {} ({:.1f} h); Moon {:.0f} % lit, rises {}, sets {}\n", clock(r.local_dark_from),
                      clock(r.local_dark_to), r.dark_min / 60, 100 * r.moon_illuminated_fraction,
                      clock(r.local_moonrise), clock(r.local_moonset));
  text += fmt::format("{} objects considered, {} too low\n\n", r.considered, r.too_low);
  text += fmt::format("{:>5}  {:<34} {:<20} {:>11} {:>5} {:>5} {:>4} {:>5} {:>6} {:>7} {:>7} {:>7}  {}\n", "worth",
                      "object", "kind", "from - to", "flip", "alt", "Moon", "eq.h", "size", "panels", "need h",
                      "tonight", "best in");
  for (const app::TonightObject& o : r.objects) {
    text += fmt::format(
        "{:4.0f}%  {:<34.34} {:<20.20} {}-{} {:>5} {:4.0f}° {:>4} {:5.1f} {:5.0f}' {:>7} {:>7} {:>7}  {}\n",
        o.worth_percent, o.title, o.kind, o.local_from, o.local_to, o.local_flip.value_or(""), o.highest_alt_deg,
        o.moon_separation_deg ? fmt::format("{:.0f}°", *o.moon_separation_deg) : "", o.equivalent_min / 60,
        o.size_arcmin, o.panels_across * o.panels_up > 1 ? fmt::format("{}x{}", o.panels_across, o.panels_up) : "",
        o.needed_h ? fmt::format("{}{:.1f}", o.brightness_assumed ? "~" : "", *o.needed_h) : "",
        o.tonight_percent ? fmt::format("{:.0f} %", *o.tonight_percent) : "", o.best_month);
  }
  return text;
}

Result<void> run(Options& o, const Session& session) {
  if (!o.workspace.empty()) o.request.workspace = o.workspace;
  for (const std::string& have : o.have) {
    const auto sign = have.rfind('=');
    double hours = 0;
    char rest = 0;
    if (sign == std::string::npos || std::sscanf(have.c_str() + sign + 1, "%lf%c", &hours, &rest) != 1 || !(hours >= 0))
      return Error(Code::kInvalidInput, fmt::format("--have: '{}' is not like \"M 33=6.5\"", have));
    o.request.collected_h.emplace_back(have.substr(0, sign), hours);
  }
  NG_TRY(const app::TonightReply reply, app::tonight(o.request, session.context()));
  if (session.json()) {
    session.print(app::to_json(reply));
    return {};
  }
  for (const std::string& note : reply.notes) session.note("note: " + note);
  session.print(text_of(reply));
  return {};
}

}  // namespace

void add_tonight(CLI::App& root, Session& session) {
  const auto o = std::make_shared<Options>();
  CLI::App* command =
      session.add_command(root, "tonight", "What deserves this night: the catalogue, ranked for site and rig", kHelp,
                          [o, &session] { return run(*o, session); });
  app::TonightRequest& r = o->request;
  command->add_option("--workspace", o->workspace, "Folder with site.toml and rig.toml; default: the nearest upwards");
  command->add_option("--date", r.date,
                      "Local date of the evening, 2027-01-05; default: this night, or the one that comes");
  command->add_option("--filter", r.filter, "Of the rig; default: its first");
  command->add_option("--kind", r.kind, "galaxy, nebula, cluster, or a kind such as \"dark nebula\"");
  command->add_option("--constellation", r.constellation, "Latin name or its three letters");
  command->add_flag("--lines", r.lines, "Only what shines in emission lines: for narrow filters and moonlit nights");
  command->add_option("--lowest-altitude-deg", r.lowest_altitude_deg, "Instead of the site's own")
      ->check(CLI::Range(0.0, 89.0));
  command->add_option("--smallest-arcmin", r.smallest_arcmin, "Longer side; default: a thirtieth of the field")
      ->check(CLI::Range(0.0, 1200.0));
  command->add_option("--largest-arcmin", r.largest_arcmin, "Longer side")
      ->check(CLI::Range(0.0, 10000.0))
      ->capture_default_str();
  command->add_option("--least-min", r.least_min, "Minutes in one stretch above the limit")
      ->check(CLI::Range(0.0, 1440.0))
      ->capture_default_str();
  command->add_option("--snr", r.snr, "Wanted signal-to-noise ratio")
      ->check(CLI::Range(1.0, 10000.0))
      ->capture_default_str();
  command->add_option("--overlap", r.overlap, "Of panels, share of the field")
      ->check(CLI::Range(0.0, 0.8))
      ->capture_default_str();
  command->add_option("--have", o->have, "Hours that are collected already: \"M 33=6.5\"; may be given again");
  command->add_option("--count", r.count, "Objects to list")->check(CLI::Range(1, 100000))->capture_default_str();
}

}  // namespace ng::cli
