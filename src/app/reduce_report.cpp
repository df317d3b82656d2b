#include "app/reduce_report.h"

#include <fmt/format.h>

#include <cmath>

#include "app/reduce_recipe.h"
#include "math/robust.h"

namespace ng::app {

std::vector<std::string> noise_notes(const std::vector<Light>& lights) {
  std::vector<std::string> notes;
  std::vector<double> ratios;
  for (const Light& light : lights)
    if (light.noise_ratio > 0) ratios.push_back(light.noise_ratio);
  if (ratios.empty()) return notes;
  const double ratio = math::median(std::span<double>(ratios));
  if (ratio < kBelievedNoiseRatio && ratio > 1 / kBelievedNoiseRatio) return notes;
  notes.push_back(
      fmt::format("the lights are {:.2f} times as noisy as gain and calibration frames predict: is the gain in their "
                  "headers right? The noise measured in each light is used",
                  ratio));
  return notes;
}

std::vector<std::string> pattern_notes(const std::vector<Light>& lights) {
  for (const Light& light : lights) {
    if (!light.bayer || !reduce::pattern_is_off(light.star_colours)) continue;
    const BayerPattern across = bayer_shifted(*light.bayer, 1, 0), down = bayer_shifted(*light.bayer, 0, 1);
    return {
        fmt::format("{}: of the two greens of its pattern {}, one sees stars {:.2f} times as bright as the other, "
                    "while red and blue "
                    "see them alike: the pattern is likely one pixel off, {} or {}, and then the colours are wrong; "
                    "say "
                    "which with --bayer",
                    light.input->path.filename().string(), to_string(*light.bayer), light.star_colours.green_rows,
                    to_string(across), to_string(down))};
  }
  return {};
}

std::vector<std::string> grid_notes(const MasterGrid& grid) {
  std::vector<std::string> notes;
  if (grid.distortion != 0)
    notes.push_back(
        fmt::format("the lens draws the corners {} by {:.2f} %: the masters are flat, their scale that of the middle "
                    "of the frame",
                    grid.distortion > 0 ? "outwards" : "inwards", 100 * std::fabs(grid.distortion)));
  if (grid.placed_by_sky > 0)
    notes.push_back(fmt::format(
        "{} of the lights share too few stars with the others: they were placed by the star catalogues alone",
        grid.placed_by_sky));
  if (grid.panels < 2) return notes;
  if (grid.expected_px == 0) {
    notes.push_back(fmt::format("{} panels on one field of {} x {} pixels; they have no stars in common", grid.panels,
                                grid.width, grid.height));
    return notes;
  }
  notes.push_back(
      fmt::format("{} panels on one field of {} x {} pixels; the stars that they share agree to {:.2f} px, their own "
                  "errors explain {:.2f} px",
                  grid.panels, grid.width, grid.height, grid.residual_px, grid.expected_px));
  return notes;
}

ReduceFrame frame_line(const InputFrame& f, bool used) {
  ReduceFrame line;
  line.path = f.path.string();
  line.kind = to_string(f.kind);
  line.reason = f.reason;
  line.accepted = f.usable() && (f.kind == FrameKind::kLight || used);
  if (f.source == nullptr) return line;
  line.filter = f.facts().filter;
  if (f.facts().start) line.start = f.facts().start->iso();
  return line;
}

void describe_light(const Light& light, const ReduceRequest& request, ReduceFrame& line) {
  const std::size_t p = light.planes == 3 ? 1 : 0;
  line.accepted = light.accepted();
  line.reason = light.reason;
  line.stars = light.quality.stars;
  line.trails = static_cast<int>(light.trails.size());
  if (light.quality.good_stars > 0) {
    line.fwhm_px = light.quality.fwhm_px;
    line.half_flux_radius_px = light.quality.half_flux_radius_px;
    line.eccentricity = light.quality.eccentricity;
  }
  line.background_e = light.quality.background;
  line.noise_e = light.noise[p];
  if (!light.registered) return;
  line.transmission = light.transmission;
  line.airmass = light.input->facts().airmass;
  line.exposure_s = light.input->facts().exposure_s;
  line.weight = light.accepted() ? light.weight : 0;
  if (const auto s = light.input->facts().exposure_s) line.equivalent_min = light.worth * *s / 60;
  const math::Affine t =
      onto_master(light, request).plane().linear_at({light.stars.width / 2.0, light.stars.height / 2.0});
  line.transform = {t.a, t.b, t.c, t.d, t.e, t.f};
  line.residual_px = light.registration.residual_px;
}

}  // namespace ng::app
