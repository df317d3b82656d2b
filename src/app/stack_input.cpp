#include "app/stack_input.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "math/robust.h"
#include "reduce/single/demosaic_noise.h"
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

reduce::ColourBalance colour_balance(std::span<const Light* const> lights) {
  std::vector<double> red, blue;
  for (const Light* light : lights) {
    if (light->star_colours.red > 0) red.push_back(light->star_colours.red);
    if (light->star_colours.blue > 0) blue.push_back(light->star_colours.blue);
  }
  const auto factor = [](std::vector<double>& colours) {
    if (colours.empty()) return 1.0f;
    return static_cast<float>(std::clamp(1 / math::median(std::span<double>(colours)), 1 / kMostBalance, kMostBalance));
  };
  return {factor(red), factor(blue)};
}

std::array<double, 3> demosaiced_variance(std::span<const Light* const> lights) {
  std::array<std::vector<double>, 3> noise;
  for (const Light* light : lights) {
    if (!light->bayer) continue;
    for (std::size_t p = 0; p < 3; ++p) noise[p].push_back(static_cast<double>(light->noise[p]));
  }
  if (noise[0].empty()) return {1, 1, 1};
  std::array<double, 3> usual{};
  for (std::size_t p = 0; p < 3; ++p) usual[p] = math::median(std::span<double>(noise[p]));
  // The four patterns are one, seen from another pixel.
  return reduce::demosaic_noise(BayerPattern::kRggb, colour_balance(lights), usual);
}

std::vector<reduce::StackFrame> stack_frames(const MasterInput& input) {
  std::vector<reduce::StackFrame> frames;
  const reduce::ColourBalance balance = colour_balance(input.lights);
  const std::array<double, 3> demosaiced = demosaiced_variance(input.lights);
  for (const Light* light : input.lights) {
    reduce::StackFrame f;
    f.source = light->input->source.get();
    f.calibration = light->calibration.calibration;
    f.bayer = light->bayer;
    f.balance = balance;
    f.to_master = light->to_master;
    f.pixel_area = light->pixel_area;
    f.panel = light->panel;
    for (const measure::Trail& t : light->trails)
      f.strips.push_back({t.normal_x, t.normal_y, t.distance, t.half_width_px});
    f.planes = light->scales;
    for (std::size_t p = 0; p < 3; ++p) f.planes[p].demosaiced_variance = demosaiced[p];
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
