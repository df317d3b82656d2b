#include "app/scale_lights.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <span>

#include "math/robust.h"
#include "reduce/stack/level_panels.h"
#include "reduce/stack/normalise.h"
#include "reduce/stack/weights.h"

namespace ng::app {
namespace {

// Of the best frame's: the clearer a frame, the more of its brightest stars are full.
constexpr double kEnoughStars = 0.5, kSharpEnough = 1.12;

Light* best_of(const std::vector<Light*>& lights) {
  return *std::max_element(lights.begin(), lights.end(),
                           [](const Light* a, const Light* b) { return a->score() < b->score(); });
}

reduce::SkyOnMaster sky_of(const Light& light, std::size_t plane, double scale) {
  return {light.background[plane], light.pixel_area / scale, light.to_master};
}

// Within one panel, to its best frame.
void bring_to(const Light& reference, const std::vector<Light*>& lights) {
  const math::PlaneMap to_reference = reference.to_master.inverse();
  for (Light* light : lights) {
    const bool self = light == &reference;
    const reduce::FluxScale flux =
        self ? reduce::FluxScale{1, 0, 1}
             : reduce::flux_scale(light->stars, reference.stars, to_reference.after(light->to_master));
    light->transmission = flux.value;
    for (std::size_t p = 0; p < static_cast<std::size_t>(light->planes); ++p) {
      reduce::PlaneScale& scale = light->scales[p];
      scale.scale = flux.value;
      scale.sky = {};
      scale.noise = light->noise[p];
      scale.variance = &light->variance[p];
      scale.variance_box_px = light->background[p].box_px;
      if (!self) scale.sky = reduce::sky_difference(sky_of(*light, p, flux.value), sky_of(reference, p, 1));
    }
  }
}

// The frame whose light stands out of its noise the most, of those that are about as good a reference.
const Light* clearest_of(const std::vector<Light*>& lights, const Light& reference) {
  const auto clearness = [](const Light* light) {
    return light->transmission / static_cast<double>(light->noise[light->planes == 3 ? 1 : 0]);
  };
  const Light* clearest = &reference;
  const FrameQuality& q = reference.quality;
  for (const Light* light : lights) {
    const bool fit =
        light->quality.good_stars >= kEnoughStars * q.good_stars && light->quality.fwhm_px <= kSharpEnough * q.fwhm_px;
    if (fit && clearness(light) > clearness(clearest)) clearest = light;
  }
  return clearest;
}

std::vector<double> scales_of(const ScaleReferences& references) {
  std::vector<reduce::PanelRatio> ratios;
  for (std::size_t i = 0; i < references.size(); ++i) {
    for (std::size_t j = i + 1; j < references.size(); ++j) {
      const Light& a = *references[i];
      const Light& b = *references[j];
      ratios.push_back({static_cast<int>(i), static_cast<int>(j),
                        reduce::flux_scale(a.stars, b.stars, b.to_master.inverse().after(a.to_master))});
    }
  }
  return reduce::panel_scales(static_cast<int>(references.size()), ratios);
}

// v / scale - sky, then (that) / factor - more: both in one.
void rescale(reduce::PlaneScale& plane, double factor, const reduce::SkySurface& more) {
  plane.scale *= factor;
  plane.sky = reduce::sum(more, reduce::scaled(plane.sky, 1 / factor));
}

// Panels that have been brought to their own references, to that of the first.
void join_panels(const ScaleReferences& references, std::vector<std::vector<Light*>>& panels) {
  const std::vector<double> factors = scales_of(references);
  const int count = static_cast<int>(references.size());
  const double size = std::max(references[0]->stars.width, references[0]->stars.height);
  for (std::size_t p = 0; p < static_cast<std::size_t>(references[0]->planes); ++p) {
    std::vector<reduce::PanelSample> samples;
    for (int i = 0; i < count; ++i)
      for (int j = i + 1; j < count; ++j) {
        const auto a = static_cast<std::size_t>(i), b = static_cast<std::size_t>(j);
        reduce::sample_overlap(i, sky_of(*references[a], p, factors[a]), j, sky_of(*references[b], p, factors[b]),
                               samples);
      }
    const std::vector<reduce::SkySurface> skies = reduce::panel_skies(count, samples, size);
    for (std::size_t k = 0; k < panels.size(); ++k)
      for (Light* light : panels[k]) rescale(light->scales[p], factors[k], skies[k]);
  }
  for (std::size_t k = 0; k < panels.size(); ++k)
    for (Light* light : panels[k]) light->transmission *= factors[k];
}

// Weights of every plane; the light's own weight and worth are those of the plane that its stars were measured on.
void weigh_group(std::span<Light* const> group, reduce::Aim aim) {
  const auto planes = static_cast<std::size_t>(group.front()->planes);
  for (std::size_t p = 0; p < planes; ++p) {
    std::vector<reduce::FrameWorth> worths;
    for (const Light* light : group) {
      const reduce::PlaneScale& s = light->scales[p];
      worths.push_back({s.noise * s.noise * light->pixel_area / (s.scale * s.scale),
                        light->quality.fwhm_px / std::sqrt(light->pixel_area)});
    }
    const std::vector<double> weights = reduce::best_weights(worths, aim);
    const std::vector<double> worth = reduce::relative_information(worths, aim);
    for (std::size_t i = 0; i < group.size(); ++i) {
      group[i]->scales[p].weight = weights[i];
      if (p != (planes == 3 ? 1 : 0)) continue;
      group[i]->weight = weights[i];
      group[i]->worth = worth[i];
    }
  }
}

// Panels see other stars and other air: each frame is compared with its own.
void leave_out(const std::vector<Light*>& panel, const Light* reference, const ReduceRequest& request) {
  std::vector<double> widths;
  for (const Light* light : panel)
    if (light->quality.fwhm_px > 0) widths.push_back(light->quality.fwhm_px);
  const double usual = widths.empty() ? 0 : math::median(std::span<double>(widths));
  for (Light* light : panel) {
    if (light == reference) continue;
    if (usual > 0 && light->quality.fwhm_px > request.max_fwhm_ratio * usual) {
      light->reason = fmt::format("stars of {:.1f} px, wider than {:g} times the usual {:.1f} px",
                                  light->quality.fwhm_px, request.max_fwhm_ratio, usual);
    } else if (light->worth < request.min_weight) {
      light->reason = fmt::format("cloud or bright sky: it is worth {:.1f} % of the best frame", 100 * light->worth);
    }
  }
}

}  // namespace

ScaleReferences bring_group_to_scale(std::vector<Light*>& group, const ReduceRequest& request) {
  std::map<int, std::vector<Light*>> by_panel;
  for (Light* light : group) by_panel[light->panel].push_back(light);
  const Light* best = best_of(group);
  std::vector<std::vector<Light*>> panels{by_panel.at(best->panel)};
  for (auto& [panel, lights] : by_panel)
    if (panel != best->panel) panels.push_back(std::move(lights));

  ScaleReferences references;
  for (const auto& lights : panels) {
    const Light* reference = best_of(lights);
    bring_to(*reference, lights);
    // Stars alone do not show thin cloud; what is brought to scale does.
    if (const Light* clearest = clearest_of(lights, *reference); clearest != reference) {
      reference = clearest;
      bring_to(*reference, lights);
    }
    references.push_back(reference);
  }
  if (panels.size() > 1) join_panels(references, panels);
  weigh_group(group, request.aim);
  for (std::size_t k = 0; k < panels.size(); ++k) leave_out(panels[k], references[k], request);
  return references;
}

}  // namespace ng::app
