#include "app/light_frames.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/frames_sheet.h"
#include "app/green_plane.h"
#include "base/parallel.h"
#include "math/robust.h"
#include "measure/background.h"
#include "reduce/single/defects.h"
#include "reduce/stack/normalise.h"
#include "reduce/stack/weights.h"

namespace ng::app {
namespace {

constexpr int kMaxStars = 300;  // per light: plenty for registration and scale

double zero_at_centre(const reduce::Calibration& c) {
  return c.zero.empty() ? c.zero_level : c.zero(c.zero.width / 2, c.zero.height / 2);
}

// Of the flat, but for a few odd pixels; 1 without one.
double least_gain(View<const float> flat_gain) {
  std::vector<float> values;
  for (int y = 0; y < flat_gain.height; y += 13)
    for (int x = 0; x < flat_gain.width; x += 13)
      if (std::isfinite(flat_gain(x, y))) values.push_back(flat_gain(x, y));
  return values.empty() ? 1 : math::quantile(std::span<float>(values), 0.01);
}

// Every second pixel of one colour.
Image<float> colour_of(View<const float> mosaic, BayerPattern pattern, int plane) {
  int x0 = 0, y0 = 0;
  for (int k = 0; k < 4; ++k)
    if (bayer_plane(pattern, k & 1, k >> 1) == plane) x0 = k & 1, y0 = k >> 1;
  Image<float> colour(mosaic.width / 2, mosaic.height / 2);
  for (int y = 0; y < colour.height(); ++y)
    for (int x = 0; x < colour.width(); ++x) colour.plane()(x, y) = mosaic(2 * x + x0, 2 * y + y0);
  return colour;
}

Result<BackgroundMap> mosaic_background(View<const float> mosaic, BayerPattern pattern, int plane, const Context& ctx) {
  measure::BackgroundOptions options;
  options.box_px = 32;  // of the half-size picture
  const Image<float> colour = colour_of(mosaic, pattern, plane);
  NG_TRY(BackgroundMap map, measure::measure_background(colour.plane(), options, ctx));
  map.width = mosaic.width;
  map.height = mosaic.height;
  map.box_px = 64;
  return map;
}

float median_of(const Image<float>& mesh) {
  std::vector<float> values;
  for (int y = 0; y < mesh.height(); ++y)
    values.insert(values.end(), mesh.plane().row(y), mesh.plane().row(y) + mesh.width());
  return math::median(std::span<float>(values));
}

// The variance per box, from the calibration frames where they tell it and the picture agrees, else as measured.
void settle_plane(Light& light, std::size_t p) {
  const BackgroundMap& background = light.background[p];
  const float measured = background.median_noise();
  const LightCalibration& c = light.calibration;
  if (c.gain_known && c.noise.zero_frames > 0 && !light.bayer) {
    Image<float> predicted = reduce::predicted_variance(background, c.calibration, c.noise);
    const float noise = std::sqrt(median_of(predicted));
    light.noise_ratio = measured / noise;
    if (light.noise_ratio < kBelievedNoiseRatio && light.noise_ratio > 1 / kBelievedNoiseRatio) {
      light.noise[p] = noise;
      light.variance[p] = std::move(predicted);
      return;
    }
  }
  light.noise[p] = measured;
  light.variance[p] = background.noise.clone();
  for (int y = 0; y < background.noise.height(); ++y) {
    float* row = light.variance[p].plane().row(y);
    for (int x = 0; x < background.noise.width(); ++x) row[x] *= row[x];
  }
}

math::Point centre_of(const Light& light) {
  return {light.stars.width / 2.0, light.stars.height / 2.0};
}

double median_of(std::vector<double> values) {
  return values.empty() ? 0 : math::median(std::span<double>(values));
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

}  // namespace

double Light::score() const {
  return quality.good_stars / std::max(0.5, quality.fwhm_px * quality.fwhm_px);
}

Result<void> map_defects_from_lights(std::vector<Light>& lights, std::vector<Image<std::uint8_t>>& store,
                                     const Context& ctx) {
  // Lights that have no dark and share a sensor vote together, at most a dozen, spread over the night.
  std::vector<bool> done(lights.size(), false);
  for (std::size_t first = 0; first < lights.size(); ++first) {
    if (done[first] || lights[first].calibration.from_dark || lights[first].input->facts().planes != 1) continue;
    std::vector<std::size_t> group;
    const FrameFacts& f = lights[first].input->facts();
    for (std::size_t i = first; i < lights.size(); ++i) {
      const FrameFacts& g = lights[i].input->facts();
      if (done[i] || lights[i].calibration.from_dark || g.width != f.width || g.height != f.height ||
          g.camera != f.camera)
        continue;
      group.push_back(i);
      done[i] = true;
    }
    if (group.size() < 2) continue;  // one frame cannot tell a hot pixel from anything else
    const std::size_t voters = std::min<std::size_t>(12, group.size());
    Image<std::uint8_t> votes(f.width, f.height, 1, std::uint8_t{0});
    Image<float> frame(f.width, f.height);
    for (std::size_t k = 0; k < voters; ++k) {
      Light& light = lights[group[k * group.size() / voters]];
      NG_CHECK(light.input->source->read_rows(0, 0, frame.plane()).in(light.input->path.filename().string()));
      reduce::Calibration scale_only = light.calibration.calibration;
      scale_only.defects = {};
      reduce::calibrate_rows(scale_only, 0, frame.plane());
      NG_TRY(const BackgroundMap map, measure::measure_background(frame.plane(), {}, ctx));
      NG_CHECK(reduce::vote_spikes(frame.plane(), map.median_noise(), light.bayer ? 2 : 1, 6, votes.plane(), ctx));
    }
    const int needed = std::max(2, static_cast<int>((voters + 1) / 2));
    for (int y = 0; y < f.height; ++y) {
      const auto defects = lights[first].calibration.calibration.defects;
      for (int x = 0; x < f.width; ++x) {
        std::uint8_t& v = votes.plane()(x, y);
        v = static_cast<std::uint8_t>(v >= needed || (!defects.empty() && defects(x, y) != 0));
      }
    }
    store.push_back(std::move(votes));
    for (const std::size_t i : group) lights[i].calibration.calibration.defects = store.back().plane();
  }
  return {};
}

Result<void> measure_light(Light& light, FrameMemory& memory, const Context& ctx) {
  FrameSource& source = *light.input->source;
  const FrameFacts& facts = source.facts();
  const int measured_plane = facts.planes == 3 ? 1 : 0;
  if (memory.image.width() != facts.width || memory.image.height() != facts.height)
    memory = {Image<float>(facts.width, facts.height), Image<std::uint8_t>(facts.width, facts.height)};
  const View<float> image = memory.image.plane();
  NG_CHECK(source.read_rows(measured_plane, 0, image));
  const reduce::Calibration& c = light.calibration.calibration;

  measure::MeasureOptions options;
  options.max_stars = kMaxStars;
  options.trails = true;
  std::optional<double> full = facts.saturation_adu;
  if (const float level = full_level(image); level > 0) full = level;
  // A little below: the dark moves it from pixel to pixel. The flat does more: where the field is brightest, a full
  // pixel comes out lowest.
  if (full) options.saturation = 0.95 * (*full - zero_at_centre(c)) * c.electrons_per_adu * least_gain(c.flat_gain);
  if (!light.calibration.gain_known) options.electrons_per_unit = 0;

  reduce::calibrate_rows(c, 0, image);
  const View<std::uint8_t> bad = memory.bad.plane();
  for (int y = 0; y < facts.height; ++y) {
    if (c.defects.empty()) {
      std::fill_n(bad.row(y), facts.width, std::uint8_t{0});
    } else {
      std::copy_n(c.defects.row(y), facts.width, bad.row(y));
    }
  }
  reduce::bridge_bad_pixels(image, bad, light.bayer ? 2 : 1);

  Image<float> green;
  if (light.bayer) {
    for (int p = 0; p < 3; ++p) {
      NG_TRY(light.background[static_cast<std::size_t>(p)], mosaic_background(image, *light.bayer, p, ctx));
    }
    green = green_plane(image, *light.bayer);
    options.noise_correlation = kGreenNoiseCorrelation;
    options.electrons_per_unit *= kGreenElectronShare;
  }
  NG_TRY(measure::FrameMeasure m, measure::measure_frame(light.bayer ? green.plane() : image, options, ctx));
  light.stars = std::move(m.list);
  light.quality = m.quality;
  light.profile = m.profile;
  light.trails = std::move(m.trails);
  light.thumbnail = thumbnail(light.bayer ? green.plane() : image, static_cast<float>(m.quality.background),
                              m.background.median_noise());
  if (!light.bayer) light.background[static_cast<std::size_t>(measured_plane)] = std::move(m.background);
  for (int p = 0; facts.planes == 3 && p < 3; ++p) {
    if (p == measured_plane) continue;
    NG_CHECK(source.read_rows(p, 0, image));
    NG_TRY(light.background[static_cast<std::size_t>(p)], measure::measure_background(image, {}, ctx));
  }
  settle_noise(light);
  return {};
}

void settle_noise(Light& light) {
  for (std::size_t p = 0; p < static_cast<std::size_t>(light.planes); ++p) settle_plane(light, p);
}

Result<std::size_t> register_lights(std::vector<Light>& lights, const Context& ctx) {
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < lights.size(); ++i)
    if (lights[i].accepted() && lights[i].stars.stars.size() >= 4) order.push_back(i);
  for (Light& light : lights) {
    if (light.accepted() && light.stars.stars.size() < 4)
      light.reason = fmt::format("only {} stars found, and a star pattern needs at least 4", light.stars.stars.size());
  }
  if (order.empty()) return Error(Code::kTooFew, "no light shows the 4 stars that a registration needs");
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return lights[a].score() > lights[b].score(); });

  // The best frame may be the odd one out (another object): then the next is tried as the reference.
  std::size_t best_reference = order[0];
  int most = -1;
  std::vector<std::optional<reduce::Registration>> best_maps;
  std::vector<std::string> best_reasons;
  for (std::size_t attempt = 0; attempt < std::min<std::size_t>(3, order.size()); ++attempt) {
    const std::size_t reference = order[attempt];
    std::vector<std::optional<reduce::Registration>> maps(lights.size());
    std::vector<std::string> reasons(lights.size());
    NG_CHECK(parallel_for(ctx, static_cast<int>(order.size()), [&](int k) {
      const std::size_t i = order[static_cast<std::size_t>(k)];
      auto r = i == reference ? Result<reduce::Registration>(
                                    reduce::Registration{{}, static_cast<int>(lights[i].stars.stars.size()), 0, 0})
                              : reduce::register_stars(lights[i].stars, lights[reference].stars);
      if (r.ok()) {
        maps[i] = *r;
      } else {
        reasons[i] = r.error().message();
      }
    }));
    const int count =
        static_cast<int>(std::count_if(maps.begin(), maps.end(), [](const auto& m) { return m.has_value(); }));
    if (count > most) {
      most = count;
      best_reference = reference;
      best_maps = std::move(maps);
      best_reasons = std::move(reasons);
    }
    if (2 * most > static_cast<int>(order.size())) break;
  }

  // Frames at the far end of a walking field may share too few stars with the reference, but enough with a neighbour.
  for (bool again = true; again;) {
    again = false;
    for (const std::size_t i : order) {
      if (best_maps[i]) continue;
      for (const std::size_t step : {i - 1, i + 1}) {  // neighbours in time; beyond the ends wraps to a huge index
        if (step >= lights.size() || !best_maps[step]) continue;
        auto r = reduce::register_stars(lights[i].stars, lights[step].stars);
        if (!r.ok()) continue;
        r->map = best_maps[step]->map.after(r->map);
        best_maps[i] = *r;
        again = true;
        break;
      }
    }
  }

  // The grid is that of a good frame near the middle of all pointings.
  std::vector<double> xs, ys;
  for (const std::size_t i : order) {
    if (!best_maps[i]) continue;
    const math::Point p = best_maps[i]->map.apply(centre_of(lights[i]));
    xs.push_back(p.x);
    ys.push_back(p.y);
  }
  const math::Point middle{median_of(xs), median_of(ys)};
  // And stands as most frames do, or as the first of the night when a meridian flip halves them.
  const auto upright = [&](std::size_t i) { return best_maps[i]->map.linear_at(centre_of(lights[i])).a > 0; };
  int balance = 0;
  for (const std::size_t i : order)
    if (best_maps[i]) balance += upright(i) ? 1 : -1;
  const auto first = std::find_if(best_maps.begin(), best_maps.end(), [](const auto& m) { return m.has_value(); });
  const bool way = balance != 0 ? balance > 0 : upright(static_cast<std::size_t>(first - best_maps.begin()));
  std::size_t grid = best_reference;
  double nearest = 1e30;
  for (const std::size_t i : order) {
    if (!best_maps[i] || upright(i) != way || lights[i].score() < 0.8 * lights[best_reference].score()) continue;
    const math::Point p = best_maps[i]->map.apply(centre_of(lights[i]));
    const double d = std::hypot(p.x - middle.x, p.y - middle.y);
    if (d < nearest) {
      nearest = d;
      grid = i;
    }
  }
  const math::Homography rebase = best_maps[grid]->map.inverse();
  for (std::size_t i = 0; i < lights.size(); ++i) {
    Light& light = lights[i];
    if (!light.accepted()) continue;
    if (!best_maps[i]) {
      light.reason = best_reasons[i].empty() ? "could not be registered" : best_reasons[i];
      continue;
    }
    light.registered = true;
    light.registration = *best_maps[i];
    light.to_master = i == grid ? math::Homography() : rebase.after(best_maps[i]->map);
    light.pixel_area = 1 / std::fabs(light.to_master.linear_at(centre_of(light)).determinant());
  }
  return grid;
}

std::size_t bring_group_to_scale(std::vector<Light*>& group, const ReduceRequest& request) {
  std::size_t best = 0;
  for (std::size_t i = 0; i < group.size(); ++i)
    if (group[i]->score() > group[best]->score()) best = i;
  const Light& reference = *group[best];
  const math::Homography to_reference = reference.to_master.inverse();
  for (Light* light : group) {
    const bool self = light == &reference;
    const reduce::FluxScale flux =
        self ? reduce::FluxScale{1, 0, 1}
             : reduce::flux_scale(light->stars, reference.stars, to_reference.after(light->to_master));
    light->transmission = flux.value;
    for (std::size_t p = 0; p < static_cast<std::size_t>(light->planes); ++p) {
      reduce::PlaneScale& scale = light->scales[p];
      scale.scale = flux.value;
      scale.noise = light->noise[p];
      scale.variance = &light->variance[p];
      scale.variance_box_px = light->background[p].box_px;
      if (!self)
        scale.sky = reduce::sky_difference({light->background[p], light->pixel_area / flux.value, light->to_master},
                                           {reference.background[p], reference.pixel_area, reference.to_master});
    }
  }
  weigh_group(group, request.aim);

  std::vector<double> widths;
  for (const Light* light : group)
    if (light->quality.fwhm_px > 0) widths.push_back(light->quality.fwhm_px);
  const double usual = median_of(widths);
  for (Light* light : group) {
    if (light == &reference) continue;
    if (usual > 0 && light->quality.fwhm_px > request.max_fwhm_ratio * usual) {
      light->reason = fmt::format("stars of {:.1f} px, wider than {:g} times the usual {:.1f} px",
                                  light->quality.fwhm_px, request.max_fwhm_ratio, usual);
    } else if (light->worth < request.min_weight) {
      light->reason = fmt::format("cloud or bright sky: it is worth {:.1f} % of the best frame", 100 * light->worth);
    }
  }
  return best;
}

}  // namespace ng::app
