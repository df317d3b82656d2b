#include "app/rehearse.h"

#include <fmt/format.h>

#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp = R"(What comes out, in the folder given by --out:
  light/ dark/ flat/ bias/ dark-flat/   16-bit FITS frames as a camera would have written them, with headers
  truth.json                            what is true of them: every star, the place of every frame on the sky, seeing,
                                        transparency, sky, noise, hot pixels, dust, cosmic rays, the satellite, and the
                                        brightness of the nebula at places without stars
The night holds what real nights hold: dithering, seeing that comes and goes, a passing cloud, a satellite, cosmic rays,
a gradient in the sky, and a meridian flip half-way. The same seed gives the same bytes.

Examples:
  nightglass rehearse --out night                         36 lights through L, R, G, B and their calibration frames
  nightglass rehearse --out night --night large           16 lights of 12 MPix through L
  nightglass rehearse --out night --sensor mosaic --lights 20
  nightglass rehearse --out night --filters Ha,OIII --lights 6 --exposure-s 600
  nightglass rehearse --out night --scenario my.toml      site, target, rig, air: keys are listed when one is wrong)";

struct Options {
  app::RehearseRequest request;
  std::string out, night = "small", sensor = "mono", size, scenario, truth_images;
};

std::string summary_of(const app::RehearseReply& r) {
  std::string text = fmt::format("{}: {} frames of {} x {} pixels in {:.1f} s\n", r.folder, r.frames.size(), r.width,
                                 r.height, r.seconds);
  for (const app::RehearseCount& c : r.counts) text += fmt::format("  {:4} {} {}\n", c.frames, c.kind, c.filter);
  text += fmt::format("  {} s each, {:.3f} arcsec/px, {} stars, {} of them from the catalogue, seed {}\n", r.exposure_s,
                      r.scale_arcsec_px, r.stars, r.catalogue_stars, r.seed);
  return text + fmt::format("  the truth: {}\n", r.truth);
}

Result<void> run(Options& o, const Session& session) {
  app::RehearseRequest& r = o.request;
  r.out = o.out;
  r.night = o.night == "large" ? simulate::NightSize::kLarge : simulate::NightSize::kSmall;
  r.mosaic = o.sensor == "mosaic";
  if (!o.scenario.empty()) r.scenario = o.scenario;
  if (!o.truth_images.empty()) r.truth_images = o.truth_images;
  if (const auto size = read_size(o.size)) {
    r.width = size->first;
    r.height = size->second;
  }
  if (r.catalogue == "none") session.note("without a catalogue: all stars are drawn by chance");
  NG_TRY(const app::RehearseReply reply, app::rehearse(r, session.context()));
  if (session.json()) {
    session.print(app::to_json(reply));
  } else {
    session.print(summary_of(reply));
  }
  return {};
}

}  // namespace

void add_rehearse(CLI::App& root, Session& session) {
  const auto options = std::make_shared<Options>();
  CLI::App* command = session.add_command(root, "rehearse", "Render a night as FITS frames whose truth is known", kHelp,
                                          [options, &session] { return run(*options, session); });
  Options& o = *options;
  app::RehearseRequest& r = o.request;
  command
      ->add_option("--out", o.out, "Folder for the night; made when it is not there, and nothing in it is overwritten")
      ->required();
  command->add_option("--night", o.night, "small: 6 MPix, L R G B, 36 lights; large: 12 MPix, L, 16 lights")
      ->check(CLI::IsMember({"small", "large"}))
      ->capture_default_str();
  command->add_option("--sensor", o.sensor, "mono, or mosaic for a colour camera")
      ->check(CLI::IsMember({"mono", "mosaic"}))
      ->capture_default_str();
  command->add_option("--seed", r.seed, "Another seed is another night; the nebula and the stars change too");
  command->add_option("--filters", r.filters, "Of the wheel: L,R,G,B,Ha,OIII,SII")->delimiter(',');
  command->add_option("--lights", r.lights, "Lights through each filter");
  command->add_option("--darks", r.darks, "Dark frames");
  command->add_option("--flats", r.flats, "Flats of each filter");
  command->add_option("--bias", r.bias, "Bias frames");
  command->add_option("--dark-flats", r.dark_flats, "Darks as long as the flats");
  command->add_option("--exposure-s", r.exposure_s, "Seconds of each light and dark");
  command->add_option("--size", o.size, "Pixels of the sensor, like 1500x1000, around its middle")->check(check_size);
  command->add_option("--scenario", o.scenario, "TOML file that changes site, target, air, mount, optics, sensor ...");
  command->add_option("--catalogue", r.catalogue, "Another star file, or none; default: the built-in one");
  command->add_option(
      "--truth-images", o.truth_images,
      "Another folder, for stars and nebula without noise: one picture per filter, on the grid of its first light");
}

}  // namespace ng::cli
