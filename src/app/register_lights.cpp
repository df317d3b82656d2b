#include "app/register_lights.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "astrometry/frame_map.h"
#include "base/angle.h"
#include "base/parallel.h"
#include "math/bend_fit.h"
#include "math/robust.h"
#include "reduce/stack/align_panels.h"
#include "reduce/stack/common_lens.h"
#include "reduce/stack/joined_panels.h"
#include "reduce/stack/union_grid.h"

namespace ng::app {
namespace {

constexpr double kPanelShare = 0.5;       // of a frame's area that lies within its panel's reference, at least
constexpr double kNeighbourShare = 0.01;  // of a frame's area that neighbouring panels have in common, at least
constexpr double kNeighbourhood = 1.5;    // diagonals between panels that the sky joins: farther off is another object
constexpr double kSameStarPx = 2;         // two places under a map that is fitted, at most
constexpr double kLensWorth =
    1.05;  // mean square that one lens may leave, over that of bends with twenty terms a frame

double median_of(std::vector<double> values) {
  return values.empty() ? 0 : math::median(std::span<double>(values));
}

// The focal length in pixels, if the file knows it.
std::optional<double> focal_length_px(const FrameFacts& f) {
  if (f.plate_scale_arcsec_px && *f.plate_scale_arcsec_px > 0) return kArcsecPerRadian / *f.plate_scale_arcsec_px;
  if (f.focal_length_mm && f.pixel_size_um && *f.focal_length_mm > 0 && *f.pixel_size_um > 0)
    return *f.focal_length_mm * 1000 / *f.pixel_size_um;
  return std::nullopt;
}

// outer after inner, from the pixels of a light.
math::PlaneMap composed_for(const Light& light, const math::PlaneMap& outer, const math::PlaneMap& inner) {
  return math::composed(outer, inner, light.stars.width, light.stars.height);
}

class Registry {
 public:
  Registry(std::vector<Light>& lights, const LightPlaces& places, const Context& ctx)
      : lights_(lights), places_(places), ctx_(ctx), by_sky_(lights.size(), false) {
    for (std::size_t i = 0; i < lights.size(); ++i)
      if (lights[i].accepted() && lights[i].stars.stars.size() >= 4) order_.push_back(i);
    std::stable_sort(order_.begin(), order_.end(),
                     [&](std::size_t a, std::size_t b) { return lights[a].score() > lights[b].score(); });
  }

  Result<MasterGrid> run(Extent extent) {
    refuse_starless();
    if (order_.empty()) return Error(Code::kTooFew, "no light shows the 4 stars that a registration needs");
    NG_CHECK(register_on_best());
    NG_CHECK(reach_further());
    MasterGrid grid;
    grid.reference = choose_grid();
    grid.width = lights_[grid.reference].stars.width;
    grid.height = lights_[grid.reference].stars.height;
    settle(grid.reference);
    grid.placed_by_sky = static_cast<int>(std::count(by_sky_.begin(), by_sky_.end(), true));
    const std::vector<std::size_t> references = find_panels(grid.reference);
    if (references.size() > 1) {
      NG_CHECK(align(references, grid));
    } else {
      take_out_lens(grid);
    }
    if (extent == Extent::kAll || (extent == Extent::kAuto && references.size() > 1)) NG_CHECK(cover_all(grid));
    return grid;
  }

 private:
  using Map = std::optional<reduce::Registration>;

  void refuse_starless() {
    for (Light& light : lights_) {
      if (light.accepted() && light.stars.stars.size() < 4)
        light.reason =
            fmt::format("only {} stars found, and a star pattern needs at least 4", light.stars.stars.size());
    }
  }

  // The best frame may be the odd one out (another object): then the next is tried as the reference.
  Result<void> register_on_best() {
    int most = -1;
    for (std::size_t attempt = 0; attempt < std::min<std::size_t>(3, order_.size()); ++attempt) {
      std::vector<Map> maps(lights_.size());
      std::vector<std::string> reasons(lights_.size());
      NG_CHECK(register_on(order_[attempt], order_, maps, reasons));
      const int count =
          static_cast<int>(std::count_if(maps.begin(), maps.end(), [](const auto& m) { return m.has_value(); }));
      if (count > most) {
        most = count;
        best_ = order_[attempt];
        maps_ = std::move(maps);
        reasons_ = std::move(reasons);
      }
      if (2 * most > static_cast<int>(order_.size())) break;
    }
    return {};
  }

  Result<void> register_on(std::size_t reference, const std::vector<std::size_t>& which, std::vector<Map>& maps,
                           std::vector<std::string>& reasons) const {
    return parallel_for(ctx_, static_cast<int>(which.size()), [&](int k) {
      const std::size_t i = which[static_cast<std::size_t>(k)];
      auto r = i == reference ? Result<reduce::Registration>(
                                    reduce::Registration{{}, static_cast<int>(lights_[i].stars.stars.size()), 0, 0})
                              : reduce::register_stars(lights_[i].stars, lights_[reference].stars);
      if (r.ok()) {
        maps[i] = *r;
      } else {
        reasons[i] = r.error().message();
      }
    });
  }

  // What shares too few stars with the reference may share enough with a frame that has its place already.
  Result<void> reach_further() {
    walk();
    while (true) {
      const std::vector<std::size_t> missing = without_map();
      if (missing.empty()) return {};
      NG_TRY(bool found, attach_panel(missing));
      if (!found) {
        NG_TRY(found, attach_by_sky(missing));
      }
      if (!found) return {};
      walk();
    }
  }

  // Frames at the far end of a walking field: neighbours in time.
  void walk() {
    for (bool again = true; again;) {
      again = false;
      for (const std::size_t i : order_) {
        if (maps_[i]) continue;
        for (const std::size_t step : {i - 1, i + 1}) {  // beyond the ends wraps to a huge index
          if (step >= lights_.size() || !maps_[step]) continue;
          auto r = reduce::register_stars(lights_[i].stars, lights_[step].stars);
          if (!r.ok()) continue;
          r->map = composed_for(lights_[i], maps_[step]->map, r->map);
          maps_[i] = *r;
          again = true;
          break;
        }
      }
    }
  }

  [[nodiscard]] std::vector<std::size_t> without_map() const {
    std::vector<std::size_t> missing;
    for (const std::size_t i : order_)
      if (!maps_[i]) missing.push_back(i);
    return missing;
  }

  // One more panel: the best frame without a place that can be joined to one of the panels that have theirs, and all
  // that register on it.
  Result<bool> attach_panel(const std::vector<std::size_t>& missing) {
    std::vector<bool> tried(lights_.size(), false);
    const std::vector<std::size_t> placed = panel_references(best_);
    for (const std::size_t i : missing) {
      if (tried[i]) continue;
      std::vector<Map> maps(lights_.size());
      std::vector<std::string> reasons(lights_.size());
      NG_CHECK(register_on(i, missing, maps, reasons));
      for (const std::size_t k : missing) tried[k] = tried[k] || maps[k].has_value();
      std::vector<Map> joined(placed.size());
      NG_CHECK(parallel_for(ctx_, static_cast<int>(placed.size()), [&](int k) {
        const auto at = static_cast<std::size_t>(k);
        auto r = reduce::register_neighbours(lights_[i].stars, lights_[placed[at]].stars);
        if (r.ok()) joined[at] = *r;
      }));
      const auto best = std::max_element(joined.begin(), joined.end(), [](const Map& a, const Map& b) {
        return (a ? a->pairs : 0) < (b ? b->pairs : 0);
      });
      if (best == joined.end() || !*best) continue;
      const math::PlaneMap onto =
          composed_for(lights_[i], maps_[placed[static_cast<std::size_t>(best - joined.begin())]]->map, (*best)->map);
      for (const std::size_t k : missing) {
        if (!maps[k]) continue;
        maps[k]->map = composed_for(lights_[k], onto, maps[k]->map);
        maps_[k] = maps[k];
      }
      return true;
    }
    return false;
  }

  // The last resort: a light that the catalogues place, on the light that all maps lead to, and all that register on
  // it.
  Result<bool> attach_by_sky(const std::vector<std::size_t>& missing) {
    for (const std::size_t i : missing) {
      const Light& light = lights_[i];
      const auto own = places_(light);
      if (!own) continue;
      const auto best = places_(lights_[best_]);
      if (!best) return false;
      const StarList& reference = lights_[best_].stars;
      const auto across = astrometry::frame_map(*own, {light.stars.width, light.stars.height}, *best,
                                                {reference.width, reference.height});
      if (!across.ok()) continue;
      if (const double far = beyond(light, across->homography); far > kNeighbourhood) {
        reasons_[i] = fmt::format("it points elsewhere, {:.1f} frames away from the others: another object?", far);
        continue;
      }
      // Where the pictures do share stars, those are better than any catalogue.
      reduce::Registration onto{across->homography};
      const auto near = reduce::register_near(light.stars, reference, across->homography);
      if (near.ok()) onto = *near;
      std::vector<Map> maps(lights_.size());
      std::vector<std::string> reasons(lights_.size());
      NG_CHECK(register_on(i, missing, maps, reasons));
      for (const std::size_t k : missing) {
        if (!maps[k]) continue;
        maps[k]->map = k == i ? onto.map : composed_for(lights_[k], onto.map, maps[k]->map);
        maps_[k] = maps[k];
        by_sky_[k] = !near.ok();
      }
      return true;
    }
    return false;
  }

  // From the middle of a light under a map to the nearest middle of those that have their place, in its own diagonals.
  [[nodiscard]] double beyond(const Light& light, const math::PlaneMap& map) const {
    const math::Point middle = map.apply(light.centre());
    const double diagonal = std::hypot(light.stars.width, light.stars.height) * map.linear_at(light.centre()).scale();
    double nearest = std::numeric_limits<double>::infinity();
    for (const std::size_t i : order_) {
      if (!maps_[i]) continue;
      const math::Point other = maps_[i]->map.apply(lights_[i].centre());
      nearest = std::min(nearest, std::hypot(other.x - middle.x, other.y - middle.y));
    }
    return nearest / diagonal;
  }

  [[nodiscard]] reduce::FrameOnGrid on_grid(std::size_t i) const {
    return {lights_[i].stars.width, lights_[i].stars.height, maps_[i]->map};
  }

  // One light for each pointing, `first` for its own; the better lights come before the others.
  [[nodiscard]] std::vector<std::size_t> panel_references(std::size_t first) const {
    std::vector<std::size_t> references{first};
    for (const std::size_t i : order_) {
      if (!maps_[i]) continue;
      const bool known = std::any_of(references.begin(), references.end(), [&](std::size_t r) {
        return reduce::overlap_share(on_grid(i), on_grid(r)) >= kPanelShare;
      });
      if (!known) references.push_back(i);
    }
    return references;
  }

  // A good frame near the middle of all pointings.
  [[nodiscard]] std::size_t choose_grid() const {
    std::vector<double> xs, ys;
    for (const std::size_t i : order_) {
      if (!maps_[i]) continue;
      const math::Point p = maps_[i]->map.apply(lights_[i].centre());
      xs.push_back(p.x);
      ys.push_back(p.y);
    }
    const math::Point middle{median_of(xs), median_of(ys)};
    // And stands as most frames do, or as the first of the night when a meridian flip halves them.
    const auto upright = [&](std::size_t i) { return maps_[i]->map.linear_at(lights_[i].centre()).a > 0; };
    int balance = 0;
    for (const std::size_t i : order_)
      if (maps_[i]) balance += upright(i) ? 1 : -1;
    const auto first = std::find_if(maps_.begin(), maps_.end(), [](const auto& m) { return m.has_value(); });
    const bool way = balance != 0 ? balance > 0 : upright(static_cast<std::size_t>(first - maps_.begin()));
    std::size_t grid = best_;
    double nearest = 1e30;
    for (const std::size_t i : order_) {
      if (!maps_[i] || upright(i) != way || lights_[i].score() < 0.8 * lights_[best_].score()) continue;
      const math::Point p = maps_[i]->map.apply(lights_[i].centre());
      const double d = std::hypot(p.x - middle.x, p.y - middle.y);
      if (d < nearest) {
        nearest = d;
        grid = i;
      }
    }
    return grid;
  }

  // Maps and reasons into the lights.
  void settle(std::size_t grid) {
    const math::PlaneMap rebase = maps_[grid]->map.inverse();
    for (std::size_t i = 0; i < lights_.size(); ++i) {
      Light& light = lights_[i];
      if (!light.accepted()) continue;
      if (!maps_[i]) {
        light.reason = reasons_[i].empty() ? "could not be registered" : reasons_[i];
        continue;
      }
      light.registered = true;
      light.registration = *maps_[i];
      place(light, i == grid ? math::PlaneMap() : composed_for(light, rebase, maps_[i]->map));
    }
  }

  // Where maps between frames of one camera are bent, one lens may explain them all.
  void take_out_lens(MasterGrid& grid) {
    const Light& reference = lights_[grid.reference];
    std::vector<std::size_t> which;
    std::vector<std::vector<reduce::StarPlaces>> stars;
    double bent2 = 0;
    bool any = false;
    for (const std::size_t i : order_) {
      if (!maps_[i] || i == grid.reference) continue;
      const Light& light = lights_[i];
      if (light.stars.width != grid.width || light.stars.height != grid.height) return;
      any = any || light.to_master.bent();
      which.push_back(i);
      stars.push_back(reduce::common_stars(light.stars, reference.stars, light.to_master, kSameStarPx));
      bent2 += std::pow(light.registration.residual_px, 2);
    }
    if (!any) return;
    const auto lens = reduce::common_lens(stars, grid.width, grid.height);
    if (!lens) return;
    double lens2 = 0;
    for (const double r : lens->residual_px) lens2 += r * r;
    if (lens2 > kLensWorth * bent2) return;
    for (std::size_t k = 0; k < which.size(); ++k) {
      Light& light = lights_[which[k]];
      light.registration.residual_px = lens->residual_px[k];
      place(light, {lens->maps[k].from(), lens->maps[k].plane(), nullptr});
    }
    const auto own = std::make_shared<const math::Bend>(reduce::lens_of(grid.width, grid.height, lens->distortion));
    place(lights_[grid.reference], {own, math::Homography(), nullptr});
    grid.distortion = lens->distortion;
  }

  static void place(Light& light, const math::PlaneMap& to_master) {
    light.to_master = to_master;
    light.pixel_area = 1 / std::fabs(to_master.linear_at(light.centre()).determinant());
  }

  // Tells every light its panel, that of the grid first; returns their references.
  std::vector<std::size_t> find_panels(std::size_t grid) {
    const std::vector<std::size_t> references = panel_references(grid);
    for (const std::size_t i : order_) {
      if (!maps_[i]) continue;
      double most = -1;
      for (std::size_t p = 0; p < references.size(); ++p) {
        const double share = i == references[p] ? 2 : reduce::overlap_share(on_grid(i), on_grid(references[p]));
        if (share <= most) continue;
        most = share;
        lights_[i].panel = static_cast<int>(p);
      }
    }
    return references;
  }

  // All panels fitted together; their lights follow their own reference.
  Result<void> align(const std::vector<std::size_t>& references, MasterGrid& grid) {
    std::vector<reduce::Panel> panels;
    for (const std::size_t r : references)
      panels.push_back({lights_[r].stars.width, lights_[r].stars.height, lights_[r].to_master});
    NG_CHECK(register_within_panels(references));
    reduce::PanelFit fit;
    std::vector<reduce::PanelLink> links;
    for (const double tolerance_px : {6.0, 2.0}) {
      links = panel_links(references, panels, tolerance_px);
      NG_TRY(fit, reduce::align_joined_panels(panels, links, focal_length_px(lights_[references[0]].input->facts())));
      for (std::size_t p = 0; p < panels.size(); ++p) panels[p].to_grid = fit.to_grid[p];
    }
    // What the sky alone has placed lies on the first panel as it was taken: it goes the way of that one.
    const std::vector<int> joined = reduce::joined_panels(static_cast<int>(panels.size()), links);
    for (std::size_t p = 0; p < panels.size(); ++p)
      if (!std::binary_search(joined.begin(), joined.end(), static_cast<int>(p)))
        fit.to_grid[p] = composed_for(lights_[references[p]], fit.to_grid[0], fit.to_grid[p]);
    grid.distortion = fit.distortion;
    if (fit.distortion != 0) map_panels_through(references, fit.distortion);
    for (const std::size_t i : order_) {
      if (!maps_[i]) continue;
      const auto p = static_cast<std::size_t>(lights_[i].panel);
      place(lights_[i], i == references[p] ? fit.to_grid[p] : composed_for(lights_[i], fit.to_grid[p], maps_[i]->map));
      if (i != references[p]) lights_[i].registration = *maps_[i];
    }
    grid.panels = static_cast<int>(panels.size());
    grid.residual_px = fit.residual_px;
    grid.expected_px = fit.expected_px;
    grid.feather_px = reduce::feather_width(panels);
    return {};
  }

  // Maps onto the panel's reference: straight where the stars allow it, else by the way that was found.
  Result<void> register_within_panels(const std::vector<std::size_t>& references) {
    const std::vector<Map> found = maps_;
    return parallel_for(ctx_, static_cast<int>(order_.size()), [&](int k) {
      const std::size_t i = order_[static_cast<std::size_t>(k)];
      if (!found[i]) return;
      const std::size_t reference = references[static_cast<std::size_t>(lights_[i].panel)];
      if (i == reference) return;
      auto r = reduce::register_stars(lights_[i].stars, lights_[reference].stars);
      if (r.ok()) {
        maps_[i] = *r;
      } else {
        maps_[i]->map = composed_for(lights_[i], found[reference]->map.inverse(), found[i]->map);
      }
    });
  }

  // The same through the lens that the panels have shown.
  void map_panels_through(const std::vector<std::size_t>& references, double distortion) {
    for (const std::size_t i : order_) {
      if (!maps_[i]) continue;
      const std::size_t reference = references[static_cast<std::size_t>(lights_[i].panel)];
      if (i == reference) continue;
      const StarList &own = lights_[i].stars, &other = lights_[reference].stars;
      const auto through = reduce::map_through(reduce::common_stars(own, other, maps_[i]->map, kSameStarPx),
                                               reduce::lens_of(own.width, own.height, distortion));
      if (!through) continue;
      maps_[i]->map = through->map;
      maps_[i]->residual_px = through->residual_px;
    }
  }

  [[nodiscard]] std::vector<reduce::PanelLink> panel_links(const std::vector<std::size_t>& references,
                                                           const std::vector<reduce::Panel>& panels,
                                                           double tolerance_px) const {
    std::vector<reduce::PanelLink> links;
    for (std::size_t a = 0; a < panels.size(); ++a) {
      for (std::size_t b = a + 1; b < panels.size(); ++b) {
        const reduce::FrameOnGrid one{panels[a].width, panels[a].height, panels[a].to_grid};
        const reduce::FrameOnGrid other{panels[b].width, panels[b].height, panels[b].to_grid};
        if (reduce::overlap_share(one, other) < kNeighbourShare) continue;
        const math::PlaneMap map = panels[b].to_grid.inverse().after(panels[a].to_grid);
        links.push_back(
            {static_cast<int>(a), static_cast<int>(b),
             reduce::common_stars(lights_[references[a]].stars, lights_[references[b]].stars, map, tolerance_px)});
      }
    }
    return links;
  }

  Result<void> cover_all(MasterGrid& grid) {
    std::vector<reduce::FrameOnGrid> frames;
    for (const Light& light : lights_)
      if (light.accepted() && light.registered)
        frames.push_back({light.stars.width, light.stars.height, light.to_master});
    const std::optional<reduce::GridBox> box = reduce::union_of(frames);
    if (!box)
      return Error(Code::kInvalidInput,
                   "the lights cover a field of more than 60000 pixels on a side; reduce them in parts, or on the grid "
                   "of one frame with --extent reference");
    const math::PlaneMap shift(math::Affine{1, 0, -static_cast<double>(box->x0), 0, 1, -static_cast<double>(box->y0)});
    for (Light& light : lights_)
      if (light.accepted() && light.registered) light.to_master = shift.after(light.to_master);
    grid.width = box->width;
    grid.height = box->height;
    return {};
  }

  std::vector<Light>& lights_;
  const LightPlaces& places_;
  const Context& ctx_;
  std::vector<bool> by_sky_;        // whose map comes from the catalogues
  std::vector<std::size_t> order_;  // lights that can be registered, the best first
  std::size_t best_ = 0;            // the light that all maps lead to
  std::vector<Map> maps_;
  std::vector<std::string> reasons_;
};

}  // namespace

Result<MasterGrid> register_lights(std::vector<Light>& lights, Extent extent, const LightPlaces& places,
                                   const Context& ctx) {
  return Registry(lights, places, ctx).run(extent);
}

}  // namespace ng::app
