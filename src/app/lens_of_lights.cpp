#include "app/lens_of_lights.h"

#include <cmath>
#include <memory>
#include <vector>

#include "reduce/stack/common_lens.h"

namespace ng::app {
namespace {

// Mean square that one lens may leave, over that of bends with twenty terms a frame.
constexpr double kLensWorth = 1.05;

}  // namespace

double take_out_lens(const LightMaps& state, std::size_t grid) {
  const Light& reference = state.lights[grid];
  const int width = reference.stars.width, height = reference.stars.height;
  std::vector<std::size_t> which;
  std::vector<std::vector<reduce::StarPlaces>> stars;
  double bent2 = 0;
  bool any = false;
  for (const std::size_t i : state.order) {
    if (!state.maps[i] || i == grid) continue;
    const Light& light = state.lights[i];
    if (light.stars.width != width || light.stars.height != height) return 0;
    any = any || light.to_master.bent();
    which.push_back(i);
    stars.push_back(reduce::common_stars(light.stars, reference.stars, light.to_master, kSameStarPx));
    bent2 += std::pow(light.registration.residual_px, 2);
  }
  if (!any) return 0;
  const auto lens = reduce::common_lens(stars, width, height);
  if (!lens) return 0;
  double lens2 = 0;
  for (const double r : lens->residual_px) lens2 += r * r;
  if (lens2 > kLensWorth * bent2) return 0;
  for (std::size_t k = 0; k < which.size(); ++k) {
    Light& light = state.lights[which[k]];
    light.registration.residual_px = lens->residual_px[k];
    place(light, {lens->maps[k].from(), lens->maps[k].plane(), nullptr});
  }
  const auto own = std::make_shared<const math::Bend>(reduce::lens_of(width, height, lens->distortion));
  place(state.lights[grid], {own, math::Homography(), nullptr});
  return lens->distortion;
}

}  // namespace ng::app
