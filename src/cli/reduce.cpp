#include "app/reduce.h"

#include <fmt/format.h>
#include <malloc.h>

#include <limits>
#include <memory>

#include "cli/session.h"

namespace ng::cli {
namespace {

// One process, one reduction: memory that is given back is taken again soon. It stays with the process, pages and all,
// for the first touch of a page costs more than what is then done with it. A few arenas, so that threads neither wait
// for each other nor each keep their own.
void keep_memory() {
  mallopt(M_ARENA_MAX, 4);
  mallopt(M_MMAP_MAX, 0);
  mallopt(M_TRIM_THRESHOLD, std::numeric_limits<int>::max());
}

std::string text_of(const app::ReduceReply& reply) {
  std::string text;
  for (const auto& f : reply.frames) {
    const std::string name = std::filesystem::path(f.path).filename().string();
    text += fmt::format("{:<32} {:<9} {}", name, f.kind, f.accepted ? "yes" : "no ");
    if (f.accepted && f.fwhm_px) {
      text += fmt::format("  {:5d} stars  FWHM {:4.2f}  sky {:8.1f}  clear {:3.0f} %  weight {:3.0f} %  fit {:.3f} px",
                          f.stars.value_or(0), *f.fwhm_px, f.background_e.value_or(0), 100 * f.transmission.value_or(0),
                          100 * f.weight.value_or(0), f.residual_px.value_or(0));
      if (f.trails.value_or(0) > 0) text += fmt::format("  {} trail{}", *f.trails, *f.trails > 1 ? "s" : "");
    }
    if (!f.reason.empty()) text += "  " + f.reason;
    text += "\n";
  }
  text += "\n";
  for (const auto& m : reply.masters) {
    text += fmt::format(
        "{}\n  {} frames, {:g} s, worth {:.1f} min of the best one; FWHM {:.2f} px; sky noise {:.3f} {} (predicted "
        "{:.3f}); {:.3f} % of values "
        "rejected\n",
        m.path, m.frames_used, m.exposure_s, m.equivalent_min, m.fwhm_px, m.noise_e, m.unit, m.predicted_noise_e,
        100 * m.rejected_share);
    if (!m.frames_sheet.empty()) text += fmt::format("  its frames: {}\n", m.frames_sheet);
    if (m.pixfrac)
      text += fmt::format(
          "  drizzled: pixfrac {:g}, scale {:g}; noise of wide areas {:.2f} times what the pixels' own suggests; "
          "weights scatter by {:.0f} %\n",
          *m.pixfrac, *m.scale, *m.noise_correlation, 100 * m.unevenness.value_or(0));
    if (m.sharp)
      text += fmt::format(
          "{}\n  the same frames coadded properly; FWHM {:.2f} px with the pixel, noise-equivalent area {:.1f} px; "
          "white noise of {:.3f} {}\n",
          m.sharp->path, m.sharp->fwhm_px, m.sharp->noise_area_px, m.sharp->noise_e, m.unit);
    if (m.extinction)
      text += fmt::format("  extinction {:.2f} +- {:.2f} mag an airmass; {} frames, {} of them behind clouds\n",
                          m.extinction->mag_airmass, m.extinction->error_mag_airmass, m.extinction->frames,
                          m.extinction->outliers);
    if (m.solution)
      text += fmt::format(
          "  on the sky: RA {:.5f} Dec {:+.5f} deg, {:.4f} arcsec/px, the top looks to {:.2f} deg{}; {} stars, {:.2f} "
          "arcsec\n",
          m.solution->ra_deg, m.solution->dec_deg, m.solution->scale_arcsec_px, m.solution->rotation_deg,
          m.solution->flipped ? ", mirrored" : "", m.solution->matched, m.solution->rms_arcsec);
    for (const auto& flag : m.flags) text += "  doubtful: " + flag + "\n";
  }
  if (reply.measures_kept > 0) text += fmt::format("{} lights had been measured before\n", reply.measures_kept);
  if (reply.masters_kept > 0) text += fmt::format("{} calibration masters had been made before\n", reply.masters_kept);
  text += fmt::format("{:.1f} s\n", reply.seconds);
  return text;
}

app::DrizzleChoice drizzle_choice(const std::string& word) {
  if (word == "yes") return app::DrizzleChoice::kYes;
  return word == "no" ? app::DrizzleChoice::kNo : app::DrizzleChoice::kAuto;
}

app::Extent extent_of(const std::string& word) {
  if (word == "all") return app::Extent::kAll;
  return word == "reference" ? app::Extent::kReference : app::Extent::kAuto;
}

}  // namespace

void add_reduce(CLI::App& root, Session& session) {
  struct Options {
    app::ReduceRequest request;
    std::string bayer, weights_for = "extended", drizzle = "auto", extent = "auto";
    std::vector<std::string> catalogues;
    bool overwrite = false, no_solution = false;
  };
  auto o = std::make_shared<Options>();
  CLI::App* command =
      session.add_command(root, "reduce", "Frames to masters: calibrate, measure, register, integrate",
                          "Sorts the files of a folder by what their headers say, matches darks and flats to the "
                          "lights, and writes one FITS master per\n"
                          "filter, all on one grid, with VARIANCE, COVERAGE and REJECTED, and a recipe beside each. "
                          "Every file is listed with its verdict.\n"
                          "Nothing of yours is changed. Example:\n  nightglass reduce my-night --out my-night-masters",
                          [o, &session]() -> Result<void> {
                            keep_memory();
                            if (!o->bayer.empty()) o->request.bayer = parse_bayer(o->bayer);
                            o->request.aim = o->weights_for == "point" ? reduce::Aim::kPoint : reduce::Aim::kExtended;
                            o->request.drizzle.choice = drizzle_choice(o->drizzle);
                            o->request.extent = extent_of(o->extent);
                            o->request.overwrite = o->overwrite ? io::Overwrite::kReplace : io::Overwrite::kRefuse;
                            o->request.solve = !o->no_solution;
                            o->request.catalogues.assign(o->catalogues.begin(), o->catalogues.end());
                            NG_TRY(const app::ReduceReply reply, app::reduce(o->request, session.context()));
                            if (session.json()) {
                              session.print(app::to_json(reply));
                              return {};
                            }
                            for (const auto& note : reply.notes) session.note("note: " + note);
                            session.print(text_of(reply));
                            return {};
                          });
  auto* where = command->add_option_group("which frames");
  where->add_option("folder", o->request.folder, "Folder of the night's files; folders below it are looked into");
  where->add_option("--target", o->request.target,
                    "In place of a folder: a target of the library, all its nights; none: lights that name no target");
  where->require_option(1);
  command->add_option(
      "--workspace", o->request.workspace,
      "Folder with site.toml and rig.toml, whose library --target asks and whose imported star catalogues "
      "are used; default: the nearest upwards");
  command->add_option("--out", o->request.out, "Folder for the masters")->required();
  command->add_flag("--add", o->request.add,
                    "Add to the masters in that folder: their own frames, as their recipes name them, and the new ones "
                    "make masters that replace them");
  command->add_flag("--overwrite", o->overwrite, "Replace masters that exist");
  command->add_flag("--sharp", o->request.sharp,
                    "Also coadd the same frames properly, into OUT/sharp: finds the faintest stars when seeing varied");
  command->add_flag("--no-solution", o->no_solution,
                    "Do not look for where the masters lie on the sky; else it goes into their headers");
  command->add_option("--catalogue", o->catalogues,
                      "For that: imported star catalogue, or a folder of them; may be repeated");
  command->add_option("--bayer", o->bayer, "Pattern of all mosaic frames, whatever their files say")
      ->check(CLI::IsMember({"RGGB", "BGGR", "GRBG", "GBRG"}));
  command
      ->add_option("--reject-sigma", o->request.kappa, "Values further off than this many predicted sigma are left out")
      ->check(CLI::Range(2.0, 100.0))
      ->capture_default_str();
  command
      ->add_option("--weights-for", o->weights_for,
                   "Sources that the weights make deepest: extended (noise alone counts) or point (seeing too)")
      ->check(CLI::IsMember({"extended", "point"}))
      ->capture_default_str();
  command
      ->add_option(
          "--extent", o->extent,
          "What the masters show: reference (the field of one frame), all (whatever any light shows), or auto: "
          "all where the lights form panels of a mosaic")
      ->check(CLI::IsMember({"auto", "reference", "all"}))
      ->capture_default_str();
  command
      ->add_option("--drizzle", o->drizzle,
                   "Drop pixels instead of interpolating: yes, no, or auto: frames of a mosaic, where the dithers "
                   "spread every colour evenly")
      ->check(CLI::IsMember({"auto", "yes", "no"}))
      ->capture_default_str();
  command
      ->add_option("--pixfrac", o->request.drizzle.pixfrac,
                   "Drizzle: side of a drop in pixels of its frame; default: as small as the dithers allow")
      ->check(CLI::Range(0.1, 1.0));
  command
      ->add_option("--scale", o->request.drizzle.scale,
                   "Drizzle: side of a master's pixel in pixels of the reference frame; other than 1, all is drizzled")
      ->check(CLI::Range(0.2, 2.0))
      ->capture_default_str();
  command
      ->add_option("--dark-temperature-c", o->request.temperature_tolerance_c,
                   "Largest temperature difference between light and dark")
      ->check(CLI::Range(0.0, 50.0))
      ->capture_default_str();
  command
      ->add_option("--dark-exposure-share", o->request.exposure_tolerance,
                   "Largest relative difference of exposure between light and dark")
      ->check(CLI::Range(0.0, 1.0))
      ->capture_default_str();
  command
      ->add_option("--max-fwhm-ratio", o->request.max_fwhm_ratio, "Leave out frames wider than this times the median")
      ->check(CLI::Range(1.0, 100.0))
      ->capture_default_str();
}

}  // namespace ng::cli
