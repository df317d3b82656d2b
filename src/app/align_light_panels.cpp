#include "app/align_light_panels.h"

#include <algorithm>
#include <optional>

#include "app/lens_of_lights.h"
#include "base/angle.h"
#include "base/parallel.h"
#include "reduce/stack/align_panels.h"
#include "reduce/stack/common_lens.h"
#include "reduce/stack/joined_panels.h"
#include "reduce/stack/union_grid.h"

namespace ng::app {
namespace {

constexpr double kNeighbourShare = 0.01;  // of a frame's area that neighbouring panels have in common, at least

// The focal length in pixels, if the file knows it.
std::optional<double> focal_length_px(const FrameFacts& f) {
  if (f.plate_scale_arcsec_px && *f.plate_scale_arcsec_px > 0) return kArcsecPerRadian / *f.plate_scale_arcsec_px;
  if (f.focal_length_mm && f.pixel_size_um && *f.focal_length_mm > 0 && *f.pixel_size_um > 0)
    return *f.focal_length_mm * 1000 / *f.pixel_size_um;
  return std::nullopt;
}

// Maps onto the panel's reference: straight where the stars allow it, else by the way that was found.
Result<void> register_within_panels(LightMaps& state, const std::vector<std::size_t>& references, const Context& ctx) {
  const std::vector<LightMap> found = state.maps;
  return parallel_for(ctx, static_cast<int>(state.order.size()), [&](int k) {
    const std::size_t i = state.order[static_cast<std::size_t>(k)];
    if (!found[i]) return;
    const std::size_t reference = references[static_cast<std::size_t>(state.lights[i].panel)];
    if (i == reference) return;
    auto r = reduce::register_stars(state.lights[i].stars, state.lights[reference].stars);
    if (r.ok()) {
      state.maps[i] = *r;
    } else {
      state.maps[i]->map = composed_for(state.lights[i], found[reference]->map.inverse(), found[i]->map);
    }
  });
}

// The same through the lens that the panels have shown.
void map_panels_through(LightMaps& state, const std::vector<std::size_t>& references, double distortion) {
  for (const std::size_t i : state.order) {
    if (!state.maps[i]) continue;
    const std::size_t reference = references[static_cast<std::size_t>(state.lights[i].panel)];
    if (i == reference) continue;
    const StarList &own = state.lights[i].stars, &other = state.lights[reference].stars;
    const auto through = reduce::map_through(reduce::common_stars(own, other, state.maps[i]->map, kSameStarPx),
                                             reduce::lens_of(own.width, own.height, distortion));
    if (!through) continue;
    state.maps[i]->map = through->map;
    state.maps[i]->residual_px = through->residual_px;
  }
}

std::vector<reduce::PanelLink> panel_links(const LightMaps& state, const std::vector<std::size_t>& references,
                                           const std::vector<reduce::Panel>& panels, double tolerance_px) {
  std::vector<reduce::PanelLink> links;
  for (std::size_t a = 0; a < panels.size(); ++a) {
    for (std::size_t b = a + 1; b < panels.size(); ++b) {
      const reduce::FrameOnGrid one{panels[a].width, panels[a].height, panels[a].to_grid};
      const reduce::FrameOnGrid other{panels[b].width, panels[b].height, panels[b].to_grid};
      if (reduce::overlap_share(one, other) < kNeighbourShare) continue;
      const math::PlaneMap map = panels[b].to_grid.inverse().after(panels[a].to_grid);
      links.push_back({static_cast<int>(a), static_cast<int>(b),
                       reduce::common_stars(state.lights[references[a]].stars, state.lights[references[b]].stars, map,
                                            tolerance_px)});
    }
  }
  return links;
}

}  // namespace

Result<PanelAlignment> align_light_panels(LightMaps& state, const std::vector<std::size_t>& references,
                                          const Context& ctx) {
  std::vector<reduce::Panel> panels;
  for (const std::size_t r : references)
    panels.push_back({state.lights[r].stars.width, state.lights[r].stars.height, state.lights[r].to_master});
  NG_CHECK(register_within_panels(state, references, ctx));
  reduce::PanelFit fit;
  std::vector<reduce::PanelLink> links;
  for (const double tolerance_px : {6.0, 2.0}) {
    links = panel_links(state, references, panels, tolerance_px);
    NG_TRY(fit,
           reduce::align_joined_panels(panels, links, focal_length_px(state.lights[references[0]].input->facts())));
    for (std::size_t p = 0; p < panels.size(); ++p) panels[p].to_grid = fit.to_grid[p];
  }
  // What the sky alone has placed lies on the first panel as it was taken: it goes the way of that one.
  const std::vector<int> joined = reduce::joined_panels(static_cast<int>(panels.size()), links);
  for (std::size_t p = 0; p < panels.size(); ++p)
    if (!std::binary_search(joined.begin(), joined.end(), static_cast<int>(p)))
      fit.to_grid[p] = composed_for(state.lights[references[p]], fit.to_grid[0], fit.to_grid[p]);
  if (fit.distortion != 0) map_panels_through(state, references, fit.distortion);
  for (const std::size_t i : state.order) {
    if (!state.maps[i]) continue;
    const auto p = static_cast<std::size_t>(state.lights[i].panel);
    place(state.lights[i],
          i == references[p] ? fit.to_grid[p] : composed_for(state.lights[i], fit.to_grid[p], state.maps[i]->map));
    if (i != references[p]) state.lights[i].registration = *state.maps[i];
  }
  return PanelAlignment{fit.distortion, reduce::feather_width(panels), fit.residual_px, fit.expected_px};
}

}  // namespace ng::app
