#include "app/light_frames.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/frames_sheet.h"
#include "app/full_level.h"
#include "app/green_plane.h"
#include "math/robust.h"
#include "measure/background.h"
#include "reduce/single/calibrate_frame.h"
#include "reduce/single/defects.h"

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
  light.noise_measured[p] = true;
  light.variance[p] = background.noise.clone();
  for (int y = 0; y < background.noise.height(); ++y) {
    float* row = light.variance[p].plane().row(y);
    for (int x = 0; x < background.noise.width(); ++x) row[x] *= row[x];
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
      reduce::calibrate_rows(scale_only, 0, frame.plane(), {});
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

Result<void> measure_light(Light& light, Image<float>& memory, const Context& ctx) {
  FrameSource& source = *light.input->source;
  const FrameFacts& facts = source.facts();
  const int measured_plane = facts.planes == 3 ? 1 : 0;
  if (memory.width() != facts.width || memory.height() != facts.height)
    memory = Image<float>(facts.width, facts.height);
  const View<float> image = memory.plane();
  const reduce::Calibration& c = light.calibration.calibration;
  FullLevel level;
  const KeptOpen kept_open({&source});
  NG_CHECK(reduce::calibrate_frame_rows(source, measured_plane, c, light.bayer ? 2 : 1, 0, image, {},
                                        [&](View<const float> rows) { level.add(rows); }));

  measure::MeasureOptions options;
  options.max_stars = kMaxStars;
  options.trails = true;
  std::optional<double> full = facts.saturation_adu;
  if (level.level() > 0) full = level.level();
  // A little below: the dark moves it from pixel to pixel. The flat does more: where the field is brightest, a full
  // pixel comes out lowest.
  if (full) {
    options.saturation = 0.95 * (*full - zero_at_centre(c)) * c.electrons_per_adu * least_gain(c.flat_gain);
    light.saturation = options.saturation;
  }
  if (!light.calibration.gain_known) options.electrons_per_unit = 0;

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
  if (light.bayer)
    light.star_colours =
        reduce::star_colours(image, *light.bayer, light.background, light.stars, 1.5 * m.quality.fwhm_px);
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

}  // namespace ng::app
