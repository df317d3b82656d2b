#include "app/measure.h"

#include <fmt/format.h>

#include <memory>

#include "cli/session.h"

namespace ng::cli {

void add_measure(CLI::App& root, Session& session) {
  struct Options {
    app::MeasureRequest request;
    std::string bayer;
    int show = 15;
  };
  auto o = std::make_shared<Options>();
  CLI::App* command = session.add_command(
      root, "measure", "Stars and quality of one frame: background, noise, FWHM, roundness, a list of stars",
      "Positions are in pixels, the centre of the first pixel being (0, 0). Example:\n  nightglass measure "
      "light_0001.fits",
      [o, &session]() -> Result<void> {
        if (!o->bayer.empty()) o->request.bayer = parse_bayer(o->bayer);
        NG_TRY(const app::MeasureReply reply, app::measure(o->request, session.context()));
        if (session.json()) {
          session.print(app::to_json(reply));
          return {};
        }
        for (const auto& note : reply.notes) session.note("note: " + note);
        std::string text = fmt::format("{}\n{} x {} px, {} stars, {} of them bright, alone and unsaturated\n",
                                       reply.path, reply.width, reply.height, reply.stars.size(), reply.good_stars);
        text += fmt::format("background {:.2f}, noise {:.2f} per pixel\n", reply.background, reply.noise);
        if (reply.fwhm_px)
          text += fmt::format("FWHM {:.2f} px, half-flux radius {:.2f} px, eccentricity {:.2f}\n", *reply.fwhm_px,
                              *reply.half_flux_radius_px, *reply.eccentricity);
        if (!reply.stars.empty())
          text += fmt::format("\n{:>9} {:>9} {:>12} {:>8} {:>6} {:>6} {:>5}\n", "x", "y", "flux", "error", "FWHM",
                              "HFR", "ecc");
        for (std::size_t i = 0; i < std::min<std::size_t>(reply.stars.size(), static_cast<std::size_t>(o->show)); ++i) {
          const auto& s = reply.stars[i];
          text +=
              fmt::format("{:9.2f} {:9.2f} {:12.1f} {:8.1f} {:6.2f} {:6.2f} {:5.2f}{}{}{}\n", s.x, s.y, s.flux,
                          s.flux_error, s.fwhm_px, s.half_flux_radius_px, s.eccentricity,
                          s.saturated ? " saturated" : "", s.blended ? " blended" : "", s.doubtful ? " doubtful" : "");
        }
        session.print(text);
        return {};
      });
  command->add_option("file", o->request.file, "Frame: FITS, camera raw, TIFF or PNG")->required();
  command->add_option("--threshold", o->request.threshold, "Detection limit in sigma of the filtered noise")
      ->check(CLI::Range(2.0, 1000.0))
      ->capture_default_str();
  command->add_option("--bayer", o->bayer, "Pattern of the mosaic, whatever its file says")
      ->check(CLI::IsMember({"RGGB", "BGGR", "GRBG", "GBRG"}));
  command->add_option("--show", o->show, "Stars to list in the text")
      ->check(CLI::Range(0, 100000))
      ->capture_default_str();
}

}  // namespace ng::cli
