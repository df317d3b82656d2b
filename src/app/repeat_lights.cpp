#include "app/repeat_lights.h"

#include "app/stack_input.h"
#include "reduce/stack/repeat_noise.h"

namespace ng::app {
namespace {

void multiply_noise(Light& light, std::size_t plane, double factor) {
  light.noise[plane] *= static_cast<float>(factor);
  light.scales[plane].noise *= factor;
  Image<float>& variance = light.variance[plane];
  for (int y = 0; y < variance.height(); ++y) {
    float* row = variance.plane().row(y);
    for (int x = 0; x < variance.width(); ++x) row[x] *= static_cast<float>(factor * factor);
  }
}

}  // namespace

Result<void> settle_noise_by_repeats(const std::vector<Light*>& group, const MasterInput& input,
                                     const ReduceRequest& request, const Context& ctx) {
  MasterInput repeats;
  repeats.scale_references = input.scale_references;
  repeats.width = input.width;
  repeats.height = input.height;
  std::vector<int> panels;
  for (const Light* light : input.lights) {
    if (!light->noise_measured[light->planes == 3 ? 1 : 0]) continue;
    repeats.lights.push_back(light);
    panels.push_back(light->panel);
  }
  if (repeats.lights.size() < 2) return {};
  NG_TRY(const auto factors, reduce::repeat_noise(stack_frames(repeats), panels, stack_options(repeats, request), ctx));
  for (Light* light : group)
    for (std::size_t p = 0; p < static_cast<std::size_t>(light->planes); ++p)
      if (light->noise_measured[p]) multiply_noise(*light, p, factors[p]);
  return {};
}

}  // namespace ng::app
