#include "app/init.h"

#include <fmt/format.h>

#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp = R"(A workspace is the folder in which your nights live. What comes out:
  site.toml                      where the telescope stands, how dark it is there, what hides the sky
  rig.toml                       telescope, sensor with its gain table, filters, guider, mount, what every pause costs
  frames/ masters/ pictures/     for what will come
Both files are yours: every line has a remark, and a wrong key is answered with file, line and the right one. What you
give here is filled in; the rest is that of an invented site and rig, and the reply names what you should change.
Commands look for the workspace from the current folder upwards, or take the one that --workspace names.

Examples:
  nightglass init nights --latitude-deg 47.9 --longitude-deg 11.2 --aperture-mm 150 --focal-length-mm 750
  nightglass init nights --pixel-um 3.76 --size 6248x4176 --reducer 0.8)";

struct Options {
  app::InitRequest request;
  std::string folder = ".", size;
};

std::string summary_of(const app::InitReply& r) {
  std::string text = fmt::format("{}: written {}\n", r.folder, fmt::join(r.written, ", "));
  if (!r.kept.empty()) text += fmt::format("  kept as it was: {}\n", fmt::join(r.kept, ", "));
  text += fmt::format("  times are told in {}\n", r.time_zone);
  if (!r.to_change.empty()) text += "  still invented, change them to yours:\n";
  for (const std::string& key : r.to_change) text += fmt::format("    {}\n", key);
  return text;
}

Result<void> run(Options& o, const Session& session) {
  o.request.folder = o.folder;
  if (const auto size = read_size(o.size)) {
    o.request.width_px = size->first;
    o.request.height_px = size->second;
  }
  NG_TRY(const app::InitReply reply, app::init(o.request, session.context()));
  if (session.json()) {
    session.print(app::to_json(reply));
  } else {
    session.print(summary_of(reply));
  }
  return {};
}

}  // namespace

void add_init(CLI::App& root, Session& session) {
  const auto options = std::make_shared<Options>();
  CLI::App* command = session.add_command(root, "init", "Make a workspace: commented site.toml and rig.toml", kHelp,
                                          [options, &session] { return run(*options, session); });
  Options& o = *options;
  app::InitRequest& r = o.request;
  command->add_option("folder", o.folder, "The new workspace; what is in it stays")->capture_default_str();
  command->add_option("--name", r.site_name, "Of the site");
  command->add_option("--latitude-deg", r.latitude_deg, "North positive");
  command->add_option("--longitude-deg", r.longitude_deg, "East positive");
  command->add_option("--elevation-m", r.elevation_m, "Above the sea");
  command->add_option("--time-zone", r.time_zone, "Like Europe/Vienna; default: the system's");
  command->add_option("--sky-mag-arcsec2", r.sky_mag_arcsec2, "V at the zenith on a moonless night");
  command->add_option("--aperture-mm", r.aperture_mm, "Clear diameter");
  command->add_option("--obstruction-mm", r.obstruction_mm, "Shade of the secondary mirror");
  command->add_option("--focal-length-mm", r.focal_length_mm, "Of the telescope alone");
  command->add_option("--reducer", r.reducer, "0.8 for a 0.8 x reducer, 2 for an extender");
  command->add_option("--pixel-um", r.pixel_um, "Of the main camera");
  command->add_option("--size", o.size, "Pixels of the main camera, like 6248x4176")->check(check_size);
}

}  // namespace ng::cli
