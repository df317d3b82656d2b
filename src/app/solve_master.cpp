#include "app/solve_master.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "app/sky_catalogues.h"
#include "app/solve_stars.h"
#include "math/point_index.h"
#include "reduce/stack/drizzle.h"

namespace ng::app {
namespace {

constexpr double kSameStarPx = 2;  // stars of two panels that are nearer than this are one

// Of each panel the light whose stars tell most, in the order of the panels.
std::vector<const Light*> best_lights(const std::vector<Light>& lights) {
  std::map<int, const Light*> best;
  for (const Light& light : lights) {
    if (!light.registered || !light.accepted()) continue;
    const Light*& held = best[light.panel];
    if (held == nullptr || light.score() > held->score()) held = &light;
  }
  std::vector<const Light*> list;
  for (const auto& [panel, light] : best) list.push_back(light);
  return list;
}

// On the masters' grid, brightest first. Fluxes of panels are alike enough for that order.
std::vector<astrometry::SeenStar> stars_on_grid(const std::vector<const Light*>& lights, double pixel_side,
                                                const math::PlaneMap& to_pixels, const MasterGrid& grid) {
  std::vector<astrometry::SeenStar> stars;
  for (const Light* light : lights) {
    const math::PointIndex known(astrometry::places(stars));
    const math::PlaneMap map = to_pixels.after(light->to_master);
    const double side = std::sqrt(light->pixel_area) * pixel_side;  // of a master's pixel, in those of the light
    for (const Star& s : light->stars.stars) {
      if (!(s.flux > 0) || s.has(kStarEdge)) continue;
      const math::Point on_grid = light->to_master.apply({s.x, s.y}), p = map.apply({s.x, s.y});
      const bool inside =
          on_grid.x > -0.5 && on_grid.y > -0.5 && on_grid.x < grid.width - 0.5 && on_grid.y < grid.height - 0.5;
      if (!inside || (known.nearest(p).first >= 0 && known.nearest(p).second < kSameStarPx * kSameStarPx)) continue;
      stars.push_back({p.x, p.y, std::hypot(s.x_error, s.y_error) / std::sqrt(2.0) / side, s.flux});
    }
  }
  std::stable_sort(stars.begin(), stars.end(), [](const auto& a, const auto& b) { return a.flux > b.flux; });
  return stars;
}

SolveField field_of(const std::vector<Light>& lights, const MasterGrid& grid, double pixel_side) {
  const FrameFacts& facts = lights[grid.reference].input->facts();
  const math::PlaneMap to_pixels = pixel_side == 1 ? math::PlaneMap() : reduce::to_drizzled(pixel_side);
  SolveField f;
  f.field.width = pixel_side == 1 ? grid.width : reduce::drizzled_size(grid.width, pixel_side);
  f.field.height = pixel_side == 1 ? grid.height : reduce::drizzled_size(grid.height, pixel_side);
  f.field.stars = stars_on_grid(best_lights(lights), pixel_side, to_pixels, grid);
  f.ra_deg = facts.ra_deg;
  f.dec_deg = facts.dec_deg;
  f.start = facts.start;
  f.scale_arcsec_px = stated_scale_arcsec_px(facts);
  if (f.scale_arcsec_px) *f.scale_arcsec_px *= pixel_side;
  if (facts.pixel_size_um) f.pixel_size_um = *facts.pixel_size_um * pixel_side;
  return f;
}

MasterSolution told_of(const SolveReply& r) {
  MasterSolution s;
  s.ra_deg = *r.ra_deg;
  s.dec_deg = *r.dec_deg;
  s.centre_error_arcsec = *r.centre_error_arcsec;
  s.scale_arcsec_px = *r.scale_arcsec_px;
  s.rotation_deg = *r.rotation_deg;
  s.flipped = *r.flipped;
  s.matched = r.matched;
  s.rms_arcsec = *r.rms_arcsec;
  s.focal_length_mm = r.focal_length_mm;
  s.distortion_degree = r.distortion_degree;
  s.catalogue = r.catalogue;
  return s;
}

}  // namespace

Result<MasterPlace> solve_masters(const std::vector<Light>& lights, const MasterGrid& grid,
                                  const ReduceRequest& request, const Context& ctx) {
  MasterPlace place;
  if (!request.solve) return place;
  auto skies = open_catalogues(request.catalogues, true, request.workspace);
  if (!skies.ok()) {
    if (!request.catalogues.empty()) return std::move(skies).error();
    place.notes.push_back("the masters carry no place on the sky: " + skies.error().message());
    return place;
  }
  place.notes = skies->notes;
  NG_TRY(const SolveReply reply, solve_stars(field_of(lights, grid, request.drizzle.scale), {}, *skies, ctx));
  place.notes.insert(place.notes.end(), reply.notes.begin(), reply.notes.end());
  if (reply.solved) {
    place.wcs = reply.solution;
    place.told = told_of(reply);
  } else {
    place.notes.push_back("the masters carry no place on the sky: " + reply.reason);
  }
  return place;
}

}  // namespace ng::app
