#include "app/solve.h"

#include <fmt/format.h>

#include <memory>

#include "base/angle.h"
#include "cli/session.h"

namespace ng::cli {
namespace {

std::string text_of(const app::SolveReply& r) {
  std::string text = fmt::format("{}\n", r.path);
  text += fmt::format("centre    RA {}  Dec {}  ({:.5f}, {:+.5f} deg), +- {:.2f} arcsec\n", format_ra(*r.ra_deg),
                      format_dec(*r.dec_deg), *r.ra_deg, *r.dec_deg, *r.centre_error_arcsec);
  text += fmt::format("field     {:.2f} x {:.2f} deg, {:.4f} +- {:.4f} arcsec/px\n", *r.width_deg, *r.height_deg,
                      *r.scale_arcsec_px, *r.scale_error_arcsec_px);
  text += fmt::format("rotation  the top looks to position angle {:.3f} +- {:.3f} deg{}\n", *r.rotation_deg,
                      *r.rotation_error_deg, *r.flipped ? "; mirrored" : "");
  if (r.focal_length_mm) text += fmt::format("focal length  {:.1f} mm\n", *r.focal_length_mm);
  text += fmt::format(
      "stars     {} seen, {} matched with the catalogue {}, residual {:.2f} arcsec = {:.2f} px "
      "(expected {:.2f} px)\n",
      r.stars, r.matched, r.catalogue, *r.rms_arcsec, *r.rms_px, *r.expected_rms_px);
  if (r.distortion_px)
    text +=
        fmt::format("distortion  degree {}, up to {:.1f} px in the corners\n", r.distortion_degree, *r.distortion_px);
  text += fmt::format("certainty  chance of a false solution below 10^{:.0f}\n", -*r.log_odds / 2.302585);
  if (r.photometry) {
    const app::FramePhotometry& p = *r.photometry;
    text += fmt::format(
        "zero point  {:.3f} +- {:.3f} mag ({}) for 1 {}/s, one star scatters by {:.3f}; {} stars, {} left out",
        p.zero_point_mag, p.zero_point_error_mag, p.band, p.unit, p.scatter_mag, p.stars, p.outliers);
    if (p.colour_term) text += fmt::format("; colour term {:+.3f} +- {:.3f}", *p.colour_term, *p.colour_term_error);
    text += "\n";
    if (p.limiting_mag) text += fmt::format("limit     {:.2f} mag at 5 sigma\n", *p.limiting_mag);
    if (p.sky_mag_arcsec2)
      text += fmt::format("sky       {:.2f} +- {:.2f} mag/arcsec2\n", *p.sky_mag_arcsec2, *p.sky_error_mag_arcsec2);
  }
  if (!r.overlay.empty()) text += fmt::format("overlay   {}\n", r.overlay);
  if (!r.written.empty()) text += fmt::format("written   {}\n", r.written);
  return text + fmt::format("{:.2f} s\n", r.seconds);
}

constexpr const char* kHelp =
    R"(Without any hint the whole sky is searched. What the header says of place and scale is tried first; it may be wrong.
A solution is only given when chance is excluded: else the reason is said, and the exit code is 1.
The file is never changed unless --in-place is given; then a whole new file takes its place at once.

Examples:
  nightglass solve light.fits
  nightglass solve light.fits --hint-ra-deg 97.98 --hint-dec-deg 4.94 --scale-arcsec-px 1.4 1.7
  nightglass solve light.fits --write solved.fits
  nightglass solve master.fits --overlay master.png)";

}  // namespace

void add_solve(CLI::App& root, Session& session) {
  struct Options {
    app::SolveRequest request;
    std::vector<double> scale;
    std::string bayer, write, overlay;
    std::vector<std::string> catalogues;
    bool overwrite = false, in_place = false, no_header = false, no_built_in = false, no_photometry = false;
  };
  auto o = std::make_shared<Options>();
  CLI::App* command = session.add_command(
      root, "solve", "Where a frame lies on the sky: centre, scale, rotation, distortion, focal length", kHelp,
      [o, &session]() -> Result<void> {
        app::SolveRequest& r = o->request;
        if (!o->bayer.empty()) r.bayer = parse_bayer(o->bayer);
        if (!o->scale.empty()) {
          r.low_scale_arcsec_px = o->scale[0];
          r.high_scale_arcsec_px = o->scale[1];
        }
        r.catalogues.assign(o->catalogues.begin(), o->catalogues.end());
        r.built_in = !o->no_built_in;
        r.use_header = !o->no_header;
        if (!o->overlay.empty()) r.overlay = o->overlay;
        r.photometry = !o->no_photometry;
        r.overwrite = o->overwrite || o->in_place ? io::Overwrite::kReplace : io::Overwrite::kRefuse;
        if (o->in_place) {
          r.write = r.file;
        } else if (!o->write.empty()) {
          r.write = o->write;
        }
        NG_TRY(const app::SolveReply reply, app::solve(r, session.context()));
        if (session.json()) {
          session.print(app::to_json(reply));
        } else {
          for (const auto& note : reply.notes) session.note("note: " + note);
          if (reply.solved) session.print(text_of(reply));
        }
        if (!reply.solved) return Error(Code::kNoMatch, reply.path + ": " + reply.reason);
        return {};
      });
  app::SolveRequest& r = o->request;
  command->add_option("file", r.file, "Frame: FITS, camera raw, TIFF or PNG")->required();
  command->add_option("--hint-ra-deg", r.hint_ra_deg, "Right ascension near which the middle lies, degrees");
  command->add_option("--hint-dec-deg", r.hint_dec_deg, "Declination there, degrees");
  command->add_option("--radius-deg", r.radius_deg, "How far from the hint it may lie")->capture_default_str();
  command->add_option("--scale-arcsec-px", o->scale, "Least and greatest scale of a pixel")->expected(2);
  command->add_option("--pixel-size-um", r.pixel_size_um,
                      "Size of a pixel, for the focal length; default: the header's");
  command->add_option("--catalogue", o->catalogues, "Imported catalogue, or a folder of them; may be repeated");
  command->add_option("--workspace", r.workspace, "Whose catalogues are used too; default: the nearest upwards");
  command->add_flag("--no-built-in", o->no_built_in, "Only the catalogues named");
  command->add_flag("--no-header", o->no_header, "Do not believe what the header says of place and scale");
  command->add_option("--bayer", o->bayer, "Pattern of the mosaic, whatever its file says")
      ->check(CLI::IsMember({"RGGB", "BGGR", "GRBG", "GBRG"}));
  auto* write = command->add_option("--write", o->write, "Copy of the FITS file, with the solution in its header");
  command->add_flag("--in-place", o->in_place, "Put the solution into the file itself")->excludes(write);
  command->add_flag("--overwrite", o->overwrite, "Replace copy and picture when they are there");
  command->add_flag("--no-photometry", o->no_photometry, "Only the place: no zero point, limit and sky brightness");
  command->add_option("--overlay", o->overlay,
                      "Picture (.png or .svg) of the frame with objects, grid, scale bar, north and east");
  command->add_flag("--annotation", r.annotation, "The same as places in pixels, in the JSON reply");
  command->add_flag("--stars", r.list_stars, "List the matched stars in the JSON reply");
}

}  // namespace ng::cli
