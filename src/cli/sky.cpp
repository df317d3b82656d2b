#include "app/sky.h"

#include <fmt/format.h>

#include "base/angle.h"
#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(Places of Sun and Moon are apparent, topocentric and of date; a target is given in ICRS (J2000). Azimuth goes from north
through east. The night is the one that contains the time, or by day the one that follows, from noon to noon: Moonrise may
come before sunset. Rise and set are those of the upper limb on a sea horizon; hills are not in it. Times are UTC.

Examples:
  nightglass sky --target "M 42"                                      now, at the site of the workspace around the folder
  nightglass sky --lat-deg 46.5 --lon-deg 8.2                                        now
  nightglass sky --lat-deg 46.5 --lon-deg 8.2 --elevation-m 900 --at 2027-01-05T22:30 --target "M 42"
  nightglass sky --lat-deg 46.5 --lon-deg 8.2 --pressure-hpa 910 --temperature-c -2 --ra-deg 83.82 --dec-deg -5.39)";

struct Options {
  app::SkyRequest request;
  std::string at, workspace;
};

std::string clock(const std::optional<std::string>& iso) {
  return iso ? iso->substr(0, 10) + " " + iso->substr(11, 8) : "none";
}

std::string body_line(const std::string& name, const app::SkyBody& b) {
  return fmt::format("{:<9}{}  {}   altitude {:6.2f}  azimuth {:6.2f}", name, format_ra(b.ra_deg),
                     format_dec(b.dec_deg), b.alt_deg, b.az_deg);
}

std::string target_text(const app::SkyTarget& t) {
  std::string text = fmt::format("\n{}  {}, galactic {:.2f} {:+.2f}\n", t.name.empty() ? "Target" : t.name,
                                 t.whereabouts, t.galactic_longitude_deg, t.galactic_latitude_deg);
  text += fmt::format("  altitude {:.3f} (without air {:.3f}), azimuth {:.3f}, hour angle {:+.2f} h\n", t.alt_deg,
                      t.alt_airless_deg, t.az_deg, t.hour_angle_deg / 15);
  if (t.airmass)
    text += fmt::format("  airmass {:.2f}, {:.2f} mag lost in the air, sky behind it {:.2f} mag/arcsec2\n", *t.airmass,
                        t.extinction_mag.value_or(0), t.sky_brightness_mag_arcsec2.value_or(0));
  text +=
      fmt::format("  {:.1f} degrees from the Moon, {:.1f} from the Sun\n", t.moon_separation_deg, t.sun_separation_deg);
  return text + fmt::format("  rise {}, transit {}, set {}\n", clock(t.rise), clock(t.transit), clock(t.set));
}

std::string text_of(const app::SkyReply& r) {
  std::string text = fmt::format("{} UTC, sidereal time {}\n\n", clock(r.at), format_ra(r.sidereal_deg));
  text += body_line("Sun", r.sun) + "\n";
  text += body_line("Moon", r.moon) + fmt::format("  {:.1f} % lit, {}, {:.0f} km\n", 100 * r.moon.illuminated_fraction,
                                                  r.moon.waxing ? "waxing" : "waning", r.moon.distance_km);
  for (const app::SkyPlanet& p : r.planets)
    text += body_line(p.name, p) +
            fmt::format("  {:4.1f} mag  {:4.1f}\"  {}\n", p.v_mag, p.diameter_arcsec, p.constellation);
  if (r.target) text += target_text(*r.target);
  const app::SkyNight& n = r.night;
  text += "\nThe night\n";
  const auto line = [&](const char* name, const std::optional<std::string>& at) {
    text += fmt::format("  {:<20}{}\n", name, clock(at));
  };
  line("sunset", n.sunset);
  line("civil dusk", n.civil_dusk);
  line("nautical dusk", n.nautical_dusk);
  line("astronomical dusk", n.astronomical_dusk);
  line("astronomical dawn", n.astronomical_dawn);
  line("nautical dawn", n.nautical_dawn);
  line("civil dawn", n.civil_dawn);
  line("sunrise", n.sunrise);
  line("moonrise", n.moonrise);
  line("moonset", n.moonset);
  return text;
}

Result<void> run(Options& o, const Session& session) {
  if (!o.workspace.empty()) o.request.workspace = o.workspace;
  if (o.at.empty()) {
    o.request.at = now();
  } else if (const auto at = Instant::parse(o.at)) {
    o.request.at = *at;
  } else {
    return Error(Code::kInvalidInput,
                 fmt::format("--at: '{}' is no date and time; write it like 2027-01-05T22:30 (UTC)", o.at));
  }
  NG_TRY(const app::SkyReply reply, app::sky_at(o.request, session.context()));
  if (session.json()) {
    session.print(app::to_json(reply));
    return {};
  }
  for (const std::string& note : reply.notes) session.note("note: " + note);
  session.print(text_of(reply));
  return {};
}

}  // namespace

void add_sky(CLI::App& root, Session& session) {
  const auto o = std::make_shared<Options>();
  CLI::App* command = session.add_command(root, "sky", "Sun, Moon, planets, twilight and a target at a place and time",
                                          kHelp, [o, &session] { return run(*o, session); });
  app::SkyRequest& r = o->request;
  command->add_option("--lat-deg", r.lat_deg, "Latitude, north positive; default: that of the workspace's site");
  command->add_option("--lon-deg", r.lon_deg, "Longitude, east positive");
  command->add_option("--elevation-m", r.elevation_m, "Height above the sea; default: 0, or the site's");
  command->add_option("--workspace", o->workspace, "Folder with site.toml and rig.toml; default: the nearest upwards");
  command->add_option("--at", o->at, "Date and time, UTC unless a zone follows (2027-01-05T23:30+01:00); default now");
  command->add_option("--target", r.target, "Name of a target: M 33, NGC 7000, Pleiades");
  command->add_option("--ra-deg", r.ra_deg, "Right ascension of a target without name, ICRS");
  command->add_option("--dec-deg", r.dec_deg, "Its declination");
  command->add_option("--pressure-hpa", r.pressure_hpa, "Air pressure at the site, for refraction; 0 = no refraction")
      ->check(CLI::Range(0.0, 1200.0))
      ->capture_default_str();
  command->add_option("--temperature-c", r.temperature_c, "Air temperature, for refraction")
      ->check(CLI::Range(-80.0, 60.0))
      ->capture_default_str();
  command->add_option("--humidity", r.humidity, "Relative humidity, 0 to 1, for refraction")
      ->check(CLI::Range(0.0, 1.0))
      ->capture_default_str();
  command
      ->add_option("--ut1-utc-s", r.ut1_minus_utc_s,
                   "UT1 - UTC as the IERS publishes it; left at 0, the sky is turned by 14 arcsec at most")
      ->check(CLI::Range(-0.9, 0.9))
      ->capture_default_str();
  command
      ->add_option("--dark-sky-mag-arcsec2", r.dark_sky_mag_arcsec2,
                   "V brightness of the moonless sky at the zenith; default: 21.6, or the site's")
      ->check(CLI::Range(10.0, 23.0));
  command
      ->add_option("--extinction-mag-airmass", r.extinction_mag_airmass,
                   "V extinction; without it that of clear air at this elevation")
      ->check(CLI::Range(0.0, 3.0));
}

}  // namespace ng::cli
