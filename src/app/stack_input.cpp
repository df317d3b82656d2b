#include "app/stack_input.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "reduce/stack/sky_on_master.h"

namespace ng::app {

reduce::StackOptions stack_options(const MasterInput& input, const ReduceRequest& request) {
  const Light& reference = *input.scale_references.front();
  reduce::StackOptions options;
  options.width = input.width;
  options.height = input.height;
  options.planes = reference.planes;
  options.noise_plane = options.planes == 3 ? 1 : 0;
  options.combine.kappa = static_cast<float>(request.kappa);
  options.feather_px = input.feather_px;
  std::vector<double> widths;
  for (const Light* light : input.lights) widths.push_back(light->quality.fwhm_px / std::sqrt(light->pixel_area));
  options.seeing = reduce::seeing_spread(widths);
  for (std::size_t p = 0; p < static_cast<std::size_t>(options.planes); ++p) {
    std::vector<reduce::SkyPart> parts;
    for (const Light* light : input.scale_references)
      parts.push_back(
          {{light->background[p], light->pixel_area / light->scales[p].scale, light->to_master}, light->scales[p].sky});
    options.sky[p] = reduce::sky_on_master(parts, options.width, options.height);
  }
  return options;
}

std::vector<reduce::StackFrame> stack_frames(const MasterInput& input) {
  std::vector<reduce::StackFrame> frames;
  for (const Light* light : input.lights) {
    reduce::StackFrame f;
    f.source = light->input->source.get();
    f.calibration = light->calibration.calibration;
    f.bayer = light->bayer;
    f.to_master = light->to_master;
    f.pixel_area = light->pixel_area;
    for (const measure::Trail& t : light->trails)
      f.strips.push_back({t.normal_x, t.normal_y, t.distance, t.half_width_px});
    f.planes = light->scales;
    f.coverage = static_cast<float>(f.source->facts().exposure_s.value_or(1));
    frames.push_back(f);
  }
  return frames;
}

std::optional<double> saturation_of(const MasterInput& input) {
  const std::size_t p = input.scale_references.front()->planes == 3 ? 1 : 0;
  std::optional<double> least;
  for (const Light* light : input.lights) {
    if (light->saturation <= 0) continue;
    const math::Point middle = light->to_master.apply(light->centre());
    const reduce::PlaneScale& scale = light->scales[p];
    const double level = light->saturation * light->pixel_area / scale.scale - scale.sky.at(middle.x, middle.y);
    least = std::min(level, least.value_or(level));
  }
  return least;
}

bool gain_known(const MasterInput& input) {
  return std::all_of(input.lights.begin(), input.lights.end(),
                     [](const Light* light) { return light->calibration.gain_known; });
}

}  // namespace ng::app
