#include "app/stack_input.h"

#include <algorithm>

#include "reduce/stack/mesh_on_master.h"

namespace ng::app {

reduce::StackOptions stack_options(const MasterInput& input, const ReduceRequest& request) {
  const Light& reference = *input.scale_reference;
  reduce::StackOptions options;
  options.width = input.width;
  options.height = input.height;
  options.planes = reference.planes;
  options.noise_plane = options.planes == 3 ? 1 : 0;
  options.combine.kappa = static_cast<float>(request.kappa);
  for (std::size_t p = 0; p < static_cast<std::size_t>(options.planes); ++p)
    options.sky[p] = reduce::mesh_on_master(
        {reference.background[p].level, reference.background[p].box_px, reference.stars.width, reference.stars.height},
        reference.to_master, options.width, options.height, reference.pixel_area);
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

bool gain_known(const MasterInput& input) {
  return std::all_of(input.lights.begin(), input.lights.end(),
                     [](const Light* light) { return light->calibration.gain_known; });
}

}  // namespace ng::app
