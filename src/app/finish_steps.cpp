#include "app/finish_steps.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/parallel.h"
#include "finish/brightness.h"
#include "finish/crop.h"
#include "finish/noise.h"
#include "finish/sampling.h"
#include "finish/sky_fit.h"
#include "finish/star_balance.h"
#include "finish/star_cores.h"
#include "finish/tone.h"
#include "math/robust.h"
#include "measure/stars.h"

namespace ng::app {
namespace {

std::array<View<float>, 3> views(std::vector<Channel>& rgb) {
  return {rgb[0].image.plane(), rgb[1].image.plane(), rgb[2].image.plane()};
}

Result<void> scale(View<float> image, float factor, const Context& ctx) {
  return parallel_for(ctx, image.height, [&](int y) {
    float* row = image.row(y);
    for (int x = 0; x < image.width; ++x) row[x] *= factor;
  });
}

Result<void> scale(Channel& channel, double factor, const Context& ctx) {
  NG_CHECK(scale(channel.image.plane(), static_cast<float>(factor), ctx));
  return scale(channel.variance.plane(), static_cast<float>(factor * factor), ctx);
}

// The mean of some channels, for a colour that has no master of its own.
Channel mean_of(const std::vector<Channel>& channels, const std::vector<int>& sources) {
  Channel mean{"", channels[static_cast<std::size_t>(sources[0])].image.clone(),
               channels[static_cast<std::size_t>(sources[0])].variance.clone()};
  const auto n = static_cast<float>(sources.size());
  for (int y = 0; y < mean.image.height(); ++y) {
    for (int x = 0; x < mean.image.width(); ++x) {
      float sum = 0;
      float variance = 0;
      for (const int s : sources) {
        sum += channels[static_cast<std::size_t>(s)].image.plane()(x, y);
        variance += channels[static_cast<std::size_t>(s)].variance.plane()(x, y);
      }
      mean.image.plane()(x, y) = sum / n;
      mean.variance.plane()(x, y) = variance / (n * n);
    }
  }
  return mean;
}

}  // namespace

Result<Region> crop_region(CropStep& step, const MasterSet& masters, const Context& ctx) {
  const Region whole{0, 0, masters.width(), masters.height()};
  if (!step.on) return whole;
  if (step.x_px && step.y_px && step.width_px && step.height_px) {
    const Region given{*step.x_px, *step.y_px, *step.width_px, *step.height_px};
    if (intersect(given, whole) == given) return given;
    return Error(Code::kNoMatch,
                 fmt::format("the recipe crops to {} x {} pixels from ({}, {}), but the masters have {} x "
                             "{}: remove these keys from step 'crop' to have the crop found again",
                             given.width, given.height, given.x0, given.y0, whole.width, whole.height));
  }
  NG_TRY(const Image<float> common, masters.common_coverage(ctx));
  const Region region = finish::common_region(common.plane(), {.min_coverage_share = step.min_coverage_share});
  if (region.width < 16 || region.height < 16)
    return Error(Code::kTooFew,
                 fmt::format("no part of the field is covered to {} of the full coverage by all masters: lower "
                             "min_coverage_share in step 'crop' of a recipe, or leave a master out",
                             step.min_coverage_share));
  step.x_px = region.x0;
  step.y_px = region.y0;
  step.width_px = region.width;
  step.height_px = region.height;
  return region;
}

Result<void> remove_background(BackgroundStep& step, std::vector<Channel>& channels, FinishFound& found, Notes& notes,
                               const Context& ctx) {
  if (!step.on) return {};
  const int width = channels[0].image.width();
  const int height = channels[0].image.height();
  if (step.coefficients_e.empty()) {
    std::vector<finish::SkyMesh> meshes;
    for (const Channel& channel : channels) {
      NG_TRY(finish::SkyMesh mesh, finish::sky_mesh(channel.image.plane(), 0, ctx));
      meshes.push_back(std::move(mesh));
    }
    NG_TRY(const finish::SkyFit fit, finish::fit_sky(meshes, step.degree.value_or(-1)));
    step.degree = fit.surfaces[0].degree;
    for (const auto& surface : fit.surfaces) step.coefficients_e.push_back(surface.coefficients);
    found.background_scatter_e = fit.scatter;
    found.sky_share = fit.sky_share;
    if (fit.doubtful)
      notes.push_back(
          fmt::format("the background is doubtful: only {:.0f} % of the field could be taken for sky, or none "
                      "in one quarter of it",
                      100 * fit.sky_share));
  }
  const auto terms = static_cast<std::size_t>(finish::sky_terms(step.degree.value_or(0)));
  const bool fits = step.degree && step.coefficients_e.size() == channels.size() &&
                    std::all_of(step.coefficients_e.begin(), step.coefficients_e.end(),
                                [&](const auto& list) { return list.size() == terms; });
  if (!fits)
    return Error(Code::kNoMatch,
                 fmt::format("step 'background' of the recipe must hold, for {} channels, that many lists of {} "
                             "coefficients (degree {}): remove coefficients_e to have them found again",
                             channels.size(), terms, step.degree.value_or(0)));
  for (std::size_t i = 0; i < channels.size(); ++i)
    NG_CHECK(finish::subtract_surface(channels[i].image.plane(), {width, height, *step.degree, step.coefficients_e[i]},
                                      ctx));
  return {};
}

Result<Layers> assign_channels(ChannelsStep& step, std::vector<Channel> channels, Notes& notes) {
  std::vector<std::string> filters;
  for (const Channel& channel : channels) filters.push_back(channel.filter);
  NG_TRY(const finish::ChannelPlan plan,
         finish::plan_channels(filters, {step.luminance, step.red, step.green, step.blue}));
  notes.insert(notes.end(), plan.notes.begin(), plan.notes.end());
  Layers layers;
  // A master may serve several colours; the last use takes it, the earlier ones copy.
  std::vector<int> uses(channels.size(), 0);
  for (const auto& sources : plan.sources)
    for (const int i : sources) ++uses[static_cast<std::size_t>(i)];
  for (const int i : {plan.luminance, plan.grey})
    if (i >= 0) ++uses[static_cast<std::size_t>(i)];
  const auto take = [&](int index) {
    const auto i = static_cast<std::size_t>(index);
    const Channel& c = channels[i];
    return --uses[i] > 0 ? Channel{c.filter, c.image.clone(), c.variance.clone()} : std::move(channels[i]);
  };
  if (plan.colour()) {
    for (const auto& sources : plan.sources) {
      layers.rgb.push_back(sources.size() == 1 ? take(sources[0]) : mean_of(channels, sources));
      if (sources.size() > 1)
        for (const int i : sources) --uses[static_cast<std::size_t>(i)];
    }
    if (plan.luminance >= 0) layers.luminance = take(plan.luminance);
  } else {
    layers.luminance = take(plan.grey);
  }
  const bool single =
      std::all_of(plan.sources.begin(), plan.sources.end(), [](const auto& s) { return s.size() == 1; });
  if (plan.luminance >= 0 && (single || !plan.colour()))
    step.luminance = finish::canonical_filter(filters[static_cast<std::size_t>(plan.luminance)]);
  if (single) {
    const std::array names = {&step.red, &step.green, &step.blue};
    for (std::size_t c = 0; c < 3; ++c)
      *names[c] = finish::canonical_filter(filters[static_cast<std::size_t>(plan.sources[c][0])]);
  }
  return layers;
}

Result<void> balance_colours(BalanceStep& step, Layers& layers, FinishFound& found, Notes& notes, const Context& ctx) {
  if (!step.on || layers.rgb.empty()) return {};
  if (!step.red_factor || !step.blue_factor) {
    const View<const float> green = layers.rgb[1].image.plane();
    measure::MeasureOptions options;
    options.threshold = 10;
    options.saturation = 0.7 * static_cast<double>(finish::highest_level(green));
    options.max_stars = 600;
    auto measured = measure::measure_frame(green, options, ctx);
    if (!measured.ok() && measured.error().code() == Code::kCancelled) return std::move(measured).error();
    finish::ColourBalance balance;
    if (measured.ok())
      balance = finish::balance_from_stars({layers.rgb[0].image.plane(), green, layers.rgb[2].image.plane()},
                                           measured->list.stars, measured->quality.fwhm_px, {});
    step.red_factor = step.red_factor.value_or(balance.red_factor);
    step.blue_factor = step.blue_factor.value_or(balance.blue_factor);
    found.red_error = balance.red_error;
    found.blue_error = balance.blue_error;
    found.balance_stars = balance.stars;
    if (balance.doubtful)
      notes.push_back(
          fmt::format("the colour balance is doubtful: only {} stars were good enough for it", balance.stars));
  }
  NG_CHECK(scale(layers.rgb[0], *step.red_factor, ctx));
  return scale(layers.rgb[2], *step.blue_factor, ctx);
}

Result<void> repair_cores(const CoresStep& step, Layers& layers, FinishFound& found) {
  if (!step.on || layers.rgb.empty()) return {};
  found.cores = finish::repair_star_cores(views(layers.rgb), {.level_share = step.level_share});
  return {};
}

Result<std::vector<Image<float>>> merge_layers(const NoiseStep& step, Layers layers, const Context& ctx) {
  const finish::NoiseOptions gentle{.strength = step.strength, .snr_limit = step.snr_limit, .scales = step.scales};
  finish::NoiseOptions firm = gentle;
  firm.strength = step.colour_strength;
  firm.scales = std::min(step.scales + 1, 7);
  finish::NoiseScratch scratch;
  std::vector<Image<float>> planes;
  if (layers.luminance && step.on) {
    Channel& l = *layers.luminance;
    NG_TRY(const auto report, finish::reduce_noise(l.image.plane(), l.variance.plane(), gentle, scratch, ctx));
    l.variance = {};
  }
  if (layers.rgb.empty()) {
    planes.push_back(std::move(layers.luminance->image));
    return planes;
  }
  NG_CHECK(finish::to_brightness(views(layers.rgb), ctx));
  NG_CHECK(finish::to_brightness_variance(
      {layers.rgb[0].variance.plane(), layers.rgb[1].variance.plane(), layers.rgb[2].variance.plane()}, ctx));
  for (std::size_t c = 0; c < 3; ++c) {
    Channel& channel = layers.rgb[c];
    if (step.on) {
      NG_TRY(const auto report, finish::reduce_noise(channel.image.plane(), channel.variance.plane(),
                                                     c == 1 ? gentle : firm, scratch, ctx));
    }
    channel.variance = {};
  }
  scratch = {};
  if (layers.luminance) {
    View<const float> brightness = layers.rgb[1].image.plane();
    const double factor = finish::luminance_factor(layers.luminance->image.plane(), brightness);
    NG_CHECK(scale(layers.luminance->image.plane(), static_cast<float>(factor), ctx));
    std::vector<float> values = finish::sample(brightness, 400000);
    const double floor = 3 * static_cast<double>(math::sky_level(values).sigma);
    NG_CHECK(finish::follow_luminance(views(layers.rgb), layers.luminance->image.plane(), floor, ctx));
  }
  for (Channel& channel : layers.rgb) planes.push_back(std::move(channel.image));
  return planes;
}

Result<void> tone(ToneStep& step, std::vector<Image<float>>& planes, FinishFound& found, const Context& ctx) {
  const View<const float> brightness = planes[planes.size() / 2].plane();
  finish::ToneCurve curve;
  if (step.on && step.black_e && step.white_e && step.bend_per_e) {
    if (!(*step.white_e > *step.black_e))
      return Error(Code::kInvalidInput, "in step 'tone' of the recipe white_e must be above black_e");
    curve = finish::ToneCurve::between(*step.black_e, *step.white_e, *step.bend_per_e);
  } else {
    const finish::ToneChoice choice =
        finish::choose_tone(brightness, {.sky_display = step.sky_display, .nebula_display = step.nebula_display});
    found.sky_e = choice.sky;
    found.sky_noise_e = choice.noise;
    curve = choice.curve;
    if (step.on) {
      step.black_e = curve.black;
      step.white_e = choice.white;
      step.bend_per_e = curve.bend;
    } else {  // without a tone: a straight line from the sky to white
      curve = finish::ToneCurve::between(choice.sky, choice.white, 1e-6 / (choice.white - choice.sky));
    }
  }
  std::vector<View<float>> views_of_planes;
  for (Image<float>& plane : planes) views_of_planes.push_back(plane.plane());
  if (planes.size() == 3)
    NG_CHECK(finish::from_brightness({views_of_planes[0], views_of_planes[1], views_of_planes[2]}, ctx));
  return finish::apply_tone(views_of_planes, curve, step.on ? step.saturation : 1.0, ctx);
}

}  // namespace ng::app
