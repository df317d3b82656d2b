#include "app/register_lights.h"

#include <algorithm>
#include <optional>

#include "app/align_light_panels.h"
#include "app/attach_lights.h"
#include "app/choose_grid.h"
#include "app/lens_of_lights.h"
#include "app/light_maps.h"
#include "app/light_panels.h"
#include "app/register_pairs.h"
#include "reduce/stack/union_grid.h"

namespace ng::app {
namespace {

Result<void> cover_all(std::vector<Light>& lights, MasterGrid& grid) {
  std::vector<reduce::FrameOnGrid> frames;
  for (const Light& light : lights)
    if (light.accepted() && light.registered)
      frames.push_back({light.stars.width, light.stars.height, light.to_master});
  const std::optional<reduce::GridBox> box = reduce::union_of(frames);
  if (!box)
    return Error(Code::kInvalidInput,
                 "the lights cover a field of more than 60000 pixels on a side; reduce them in parts, or on the grid "
                 "of one frame with --extent reference");
  const math::PlaneMap shift(math::Affine{1, 0, -static_cast<double>(box->x0), 0, 1, -static_cast<double>(box->y0)});
  for (Light& light : lights)
    if (light.accepted() && light.registered) light.to_master = shift.after(light.to_master);
  grid.width = box->width;
  grid.height = box->height;
  return {};
}

}  // namespace

Result<MasterGrid> register_lights(std::vector<Light>& lights, Extent extent, const LightPlaces& places,
                                   const Context& ctx) {
  LightMaps state = without_maps(lights);
  if (state.order.empty()) return Error(Code::kTooFew, "no light shows the 4 stars that a registration needs");
  NG_CHECK(register_on_best(state, ctx));
  NG_CHECK(attach_lights(state, places, ctx));
  MasterGrid grid;
  grid.reference = choose_grid(state);
  grid.width = lights[grid.reference].stars.width;
  grid.height = lights[grid.reference].stars.height;
  settle(state, grid.reference);
  grid.placed_by_sky = static_cast<int>(std::count(state.by_sky.begin(), state.by_sky.end(), true));
  const std::vector<std::size_t> references = find_panels(state, grid.reference);
  grid.panels = static_cast<int>(references.size());
  if (grid.panels > 1) {
    NG_TRY(const PanelAlignment alignment, align_light_panels(state, references, ctx));
    grid.distortion = alignment.distortion;
    grid.feather_px = alignment.feather_px;
    grid.residual_px = alignment.residual_px;
    grid.expected_px = alignment.expected_px;
  } else {
    grid.distortion = take_out_lens(state, grid.reference);
  }
  if (extent == Extent::kAll || (extent == Extent::kAuto && grid.panels > 1)) NG_CHECK(cover_all(lights, grid));
  return grid;
}

}  // namespace ng::app
